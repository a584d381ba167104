package calibrate

import (
	"context"
	"math"
	"slices"

	"parcours.example/analysis/ride"
)

// Lee is a stretch that was ridden with less drag than the rider has alone.
type Lee struct {
	// StartM and EndM are places on the course, StartS and EndS times of the ride.
	StartM, EndM, StartS, EndS float64
	// Factor is the drag there over the drag alone, and FactorSE its standard error, that
	// of the drag area included.
	Factor, FactorSE float64
}

const (
	// leastSure is how many standard errors below the drag alone a lee must lie: with the
	// hundreds of stretches of a ride, and all runs of them, tried, few are found by chance.
	leastSure = 5.0
	// leastLee is the least share of the drag that a lee takes away, so that sitting lower
	// for a while is none.
	leastLee = leastShelter
	// mostLee is the most that it takes: the middle of a bunch (../shelter).
	mostLee = 0.95
	// fewestInLee is how many stretches a lee has: one alone may be a fault of the elevation.
	fewestInLee = 2
	// mostLees bounds their number.
	mostLees = 50
)

// Lees finds the sheltered stretches of a ride of somebody whose drag area and rolling
// resistance are known, the former with a standard error, by the same energy balance as Fit.
// Lees are what most surely of all runs of stretches lies below the rider's own drag, one
// after the other (the segments of Olshen et al. 2004, Biostatistics 5:557–572). They are in
// order. A strong unknown tailwind looks like shelter. Errors are those of Fit.
func Lees(ctx context.Context, s Session, cdaM2, cdaSE, crr float64) ([]Lee, error) {
	m, err := newModel(ctx, []Session{s}, Options{Uncertainties: ride.Uncertainties{}})
	if err != nil {
		return nil, err
	}
	m.settled = true
	m.typical.cda, m.typical.crr = cdaM2, crr
	solver := newSolver(m)
	if err := solver.solve(ctx); err != nil {
		return nil, err
	}
	return solver.lees(cdaSE / cdaM2), nil
}

// run is a run of stretches first…last that lack a share of their drag, with its standard
// error.
type run struct {
	first, last int
	lacks, se   float64
}

// sure is how many standard errors away from the drag alone it is.
func (r *run) sure() float64 { return r.lacks / r.se }

// sheltered reports whether it is a lee.
func (r *run) sheltered() bool {
	return r.last-r.first+1 >= fewestInLee && r.lacks >= leastLee && r.lacks <= mostLee+r.se && r.sure() > leastSure
}

// runs are runs of stretches that lack drag, in order and apart, where p is P of the
// residuals, pr P times them and drag the work of the whole drag on each stretch. Of a run
// with c its drag, 0 elsewhere, the share that it lacks is −c'Pr/c'Pc and its variance
// 1/c'Pc, whatever else is sought.
type runs struct {
	p        symmetric
	pr, drag []float64
	square   []float64
	found    []run
}

func newRuns(p symmetric, pr, drag []float64) *runs {
	return &runs{p: p, pr: pr, drag: drag, square: sums(p, drag)}
}

// almost is 1 less what rounding may come to.
const almost = 1 - 1e-9

// most returns the run within first…last that is surest by a measure, which is at most the
// size of sure; ok is false where none is surer than leastSure.
func (r *runs) most(first, last int, measure func(*run) float64) (best run, ok bool) {
	n := len(r.drag)
	at := func(a, b int) float64 { return r.square[a*(n+1)+b] }
	sure := leastSure
	for a := first; a <= last; a++ {
		right := 0.0
		for b := a; b <= last; b++ {
			right -= float64(r.drag[b] * r.pr[b])
			c := at(b+1, b+1) - at(a, b+1) - at(b+1, a) + at(a, a)
			if b-a+1 < fewestInLee || !(c > 0) {
				continue
			}
			if right*right < almost*sure*sure*c { // most are not, and this tells it without a root
				continue
			}
			x := run{a, b, right / c, 1 / math.Sqrt(c)}
			if m := measure(&x); m > sure {
				sure, best, ok = m, x, true
			}
		}
	}
	return best, ok
}

// add takes the surest lee beside those that are found.
func (r *runs) add() bool {
	var best run
	found := false
	consider := func(first, last int) {
		x, ok := r.most(first, last, func(x *run) float64 {
			if !x.sheltered() {
				return 0
			}
			return x.sure()
		})
		if ok && (!found || x.sure() > best.sure()) {
			best, found = x, true
		}
	}
	from := 0
	for _, f := range r.found {
		consider(from, f.first-1)
		from = f.last + 1
	}
	consider(from, len(r.drag)-1)
	if found {
		r.found = append(r.found, best)
		r.order()
	}
	return found
}

// split parts the run that holds a part that is surely not as the rest of it.
func (r *runs) split() bool {
	best, of := run{}, -1
	for k, f := range r.found {
		x, ok := r.most(f.first, f.last, func(x *run) float64 { return math.Abs(x.sure()) })
		if ok && (of < 0 || math.Abs(x.sure()) > math.Abs(best.sure())) {
			best, of = x, k
		}
	}
	if of < 0 {
		return false
	}
	f := r.found[of]
	r.found = slices.Delete(r.found, of, of+1)
	r.found = append(r.found, best)
	if best.first > f.first {
		r.found = append(r.found, run{first: f.first, last: best.first - 1})
	}
	if best.last < f.last {
		r.found = append(r.found, run{first: best.last + 1, last: f.last})
	}
	r.order()
	return true
}

func (r *runs) order() {
	slices.SortFunc(r.found, func(a, b run) int { return a.first - b.first })
}

// level finds what the runs lack all together, and what is left over then.
func (r *runs) level(pr []float64) bool {
	k := len(r.found)
	cov := newSymmetric(k)
	columns := make([][]float64, k)
	right := make([]float64, k)
	for i, f := range r.found {
		columns[i] = r.weighed(f)
		right[i] = -dot(r.drag[f.first:f.last+1], pr[f.first:f.last+1])
		for j, o := range r.found[:i+1] {
			cov.a[i*k+j] = dot(r.drag[o.first:o.last+1], columns[i][o.first:o.last+1])
		}
	}
	if !cov.invertScaled() {
		return false
	}
	r.pr = slices.Clone(pr)
	for i, lacks := range cov.times(right) {
		r.found[i].lacks, r.found[i].se = lacks, math.Sqrt(cov.a[i*k+i])
		for j := range r.pr {
			r.pr[j] += float64(lacks * columns[i][j])
		}
	}
	return true
}

// weighed is P times the drag of a run.
func (r *runs) weighed(f run) []float64 {
	out := make([]float64, len(r.drag))
	for i := range out {
		out[i] = dot(r.p.row(i)[f.first:f.last+1], r.drag[f.first:f.last+1])
	}
	return out
}

// search finds all runs, adding and parting them until nothing is sure any more, and keeps
// those that are lees.
func (r *runs) search() []run {
	pr := r.pr
	for range mostLees {
		if !r.split() && !r.add() {
			break
		}
		if !r.level(pr) {
			return nil
		}
	}
	return slices.DeleteFunc(r.found, func(f run) bool { return !f.sheltered() })
}

// sums returns the sums of dragᵢ·pᵢₖ·dragₖ over the first a rows and b columns, at
// a·(n+1)+b.
func sums(p symmetric, drag []float64) []float64 {
	n := len(drag)
	square := make([]float64, (n+1)*(n+1))
	for i := range n {
		above, row := square[i*(n+1):], square[(i+1)*(n+1):]
		along := 0.0
		for k := range n {
			along += float64(drag[i] * p.a[i*n+k] * drag[k])
			row[k+1] = above[k+1] + along
		}
	}
	return square
}
