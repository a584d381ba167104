package calibrate

import (
	"context"
	"math"
)

// solver finds the sought values, the errors and what each stretch was, in turns.
type solver struct {
	*model
	state   state
	scatter *scatter
	mixture *mixture
	// runs are the sheltered runs of stretches.
	runs []run
	last *linear
	// still are the works of the air in the sessions' own winds.
	still []airWork
}

// linear is the generalised least squares of the residuals on the columns of what is
// sought, at a state.
type linear struct {
	sought  []quantity
	columns [][]float64
	// inverse is that of the covariance, weighed the columns times it.
	inverse symmetric
	weighed [][]float64
	// cov is the covariance of the sought values: what is known of them goes in as if it
	// were measured.
	cov symmetric
	// step is how the state should move, pr and p are P·r and P of restricted likelihood.
	step []float64
	pr   []float64
	p    symmetric
}

func newSolver(m *model) *solver {
	s := &solver{model: m, state: m.typical.clone()}
	airs := m.airs(&s.state)
	s.still = airs
	s.scatter = m.newScatter(airs)
	s.mixture = newMixture(len(m.equations))
	if !m.settled {
		s.begin(airs)
	}
	return s
}

// begin guesses the drag area and the scatter from each stretch alone, at the assumed Crr.
func (s *solver) begin(airs []airWork) {
	free := s.state
	free.cda = 0
	left := s.residuals(&free, airs)
	var drags []weighted
	for i := range left {
		if j := airs[i].j; s.typical.cda*j > s.typical.crr*s.equations[i].rollingJ/2 {
			drags = append(drags, weighted{left[i] / j, j})
		}
	}
	if len(drags) < fewestSpare {
		return
	}
	cda := quantile(drags, upper)
	if !(cda > s.typical.cda/3) {
		return
	}
	s.state.cda = cda
	off := make([]weighted, len(drags))
	for i, d := range drags {
		off[i] = weighted{math.Abs(d.value-cda) / cda, d.weight}
	}
	// 1.4826 makes a standard deviation of the median departure of normal errors.
	rough := 1.4826 * quantile(off, 0.5) / typicalScatter
	s.scatter.factors[ownPart] = min(max(float64(rough*rough), 1), 100)
}

const (
	// mostTurns and settled end the search: values that move by less than a share of their
	// errors, and weights by less than that.
	mostTurns = 40
	settled   = 0.01
)

// solve takes turns until nothing moves. Runs of sheltered stretches are taken one a turn,
// the first of them while the scatter is still that of all; once it is known they are all
// looked for anew. It fails with the context's error, and with CodeTooLittle where the
// equations don't determine what is sought at all.
func (s *solver) solve(ctx context.Context) error {
	if err := s.turns(ctx, true); err != nil || len(s.runs) == 0 {
		return err
	}
	s.setAside(1, OwnAir)
	l, airs := s.linearise()
	if l == nil {
		return s.undetermined()
	}
	s.runs = newRuns(l.p, l.pr, s.drag(airs)).search()
	return s.turns(ctx, false)
}

func (s *solver) undetermined() error {
	return failed(-1, CodeTooLittle, "the rides don't determine what is sought: no stretch differs from another")
}

// turns takes turns until nothing moves, looking for runs or not.
func (s *solver) turns(ctx context.Context, looking bool) error {
	for turn := range mostTurns {
		if err := ctx.Err(); err != nil {
			return err
		}
		l, airs := s.linearise()
		if l == nil {
			return s.undetermined()
		}
		s.state = s.state.moved(l.sought, l.step)
		s.last = l
		moved := 0.0
		for k, by := range l.step {
			moved = max(moved, math.Abs(by)/math.Sqrt(l.cov.a[k*l.cov.n+k]))
		}
		moved = max(moved, s.scatter.update(l.p, l.pr, s.mixture.weights)/10)
		if turn > 0 || !looking {
			drag := s.drag(airs)
			moved = max(moved, s.mixture.judge(l.p, l.pr, drag))
			if looking && s.take(l, drag) {
				moved = 1
			}
			s.setAside(leastWeight, Sheltered)
		}
		if turn > 2 && moved < settled {
			break
		}
	}
	return nil
}

// drag is the work of the rider's own drag on each stretch.
func (s *solver) drag(airs []airWork) []float64 {
	drag := make([]float64, len(airs))
	for i := range airs {
		drag[i] = s.state.cda * airs[i].j
	}
	return drag
}

// take adds the surest lee beside those that are found.
func (s *solver) take(l *linear, drag []float64) bool {
	r := newRuns(l.p, l.pr, drag)
	r.found = s.runs
	added := len(r.found) < mostLees && r.add()
	s.runs = r.found
	return added
}

// setAside gives the stretches of the runs a weight and a class.
func (s *solver) setAside(weight float64, class Class) {
	for _, f := range s.runs {
		for i := f.first; i <= f.last; i++ {
			s.mixture.weights[i], s.mixture.class[i] = weight, class
		}
	}
}

// air are the works of the air at the state: what is sought moves them by a wind alone.
func (s *solver) air() []airWork {
	if !s.opt.Wind {
		return s.still
	}
	return s.airs(&s.state)
}

// linearise sets up and solves the equations around the state; nil where they can't be.
func (s *solver) linearise() (*linear, []airWork) {
	airs := s.air()
	l := &linear{sought: s.sought(), inverse: s.scatter.covariance(s.mixture.weights)}
	for _, q := range l.sought {
		l.columns = append(l.columns, s.column(q, &s.state, airs))
	}
	if !l.inverse.invert() || !l.normal() {
		return nil, nil
	}
	r := s.residuals(&s.state, airs)
	right := make([]float64, len(l.sought))
	for k, q := range l.sought {
		right[k] = dot(l.weighed[k], r) - s.state.away(q)/float64(q.sd*q.sd)
	}
	l.step = l.cov.times(right)
	l.restrict(r)
	return l, airs
}

// normal inverts the normal equations.
func (l *linear) normal() bool {
	k := len(l.columns)
	l.cov = newSymmetric(k)
	l.weighed = make([][]float64, k)
	for i := range k {
		l.weighed[i] = l.inverse.times(l.columns[i])
		for j := range i + 1 {
			l.cov.a[i*k+j] = dot(l.weighed[i], l.columns[j])
		}
		l.cov.a[i*k+i] += 1 / float64(l.sought[i].sd*l.sought[i].sd)
	}
	return l.cov.invertScaled()
}

// restrict forms P = V⁻¹ − V⁻¹X(X'V⁻¹X + Λ)⁻¹X'V⁻¹ in the place of the inverse, and P·r.
func (l *linear) restrict(r []float64) {
	k := len(l.columns)
	l.p = l.inverse
	for i := range l.p.n {
		row := l.p.row(i)
		for a := range k {
			c := 0.0
			for b := range k {
				c += float64(l.cov.a[a*k+b] * l.weighed[b][i])
			}
			for j, w := range l.weighed[a] {
				row[j] -= float64(c * w)
			}
		}
	}
	l.pr = l.p.times(r)
}

// shift is how the sought values move where a quantity that isn't sought is one unit above
// what it is taken for.
func (l *linear) shift(column []float64) []float64 {
	right := make([]float64, len(l.columns))
	for k := range right {
		right[k] = -dot(l.weighed[k], column)
	}
	return l.cov.times(right)
}
