package calibrate

import (
	"math"
	"slices"
)

// Expected is how well rides like these tell the drag area and the rolling resistance:
// their speeds, course and length, with errors as they are taken for granted, at a typical
// drag area. It doesn't depend on what came out. The wind's uncertainty is in it; that of
// mass, power meter, air and drivetrain is not, since no further ride would make it less.
type Expected struct {
	CdASE, CrrSE, Correlation float64
	// Determined of drag or rolling: right within 3 % of a typical drag area, or 10 % of
	// the assumed Crr, in 19 of 20 rides, which is twice the standard error.
	DragDetermined, RollingDetermined bool
}

// The largest expected standard errors at which a value is determined, as shares of it.
const (
	dragShare    = 0.015
	rollingShare = 0.05
)

// TrialKind is a way to ride once more.
type TrialKind string

// The trials.
const (
	// Slower: the same course once more at 60 % of the speed.
	Slower TrialKind = "slower"
	// Reversed: the same road in the other direction.
	Reversed TrialKind = "reversed"
	// Again: the same once more.
	Again TrialKind = "again"
)

// Trial is a further ride and what it would bring together with these.
type Trial struct {
	Kind     TrialKind
	Expected Expected
	// CrrAssumed says that Crr would still have to be assumed.
	CrrAssumed bool
}

// slowerShare is the speed of the ride that is advised for two speeds.
const slowerShare = 0.6

// information is what rides say about drag, rolling and what else is sought: the normal
// matrix, and how each of the winds that isn't sought leans on it.
type information struct {
	normal symmetric
	lean   [][]float64
}

// design is what the rides can tell by how they were ridden.
type design struct {
	// sought has drag and rolling first; winds are those that aren't sought.
	sought, winds []quantity
	inverse       symmetric
	own           information
}

// design looks at the rides before anything is learned.
func (m *model) design() *design {
	m.crrHeld = false
	d := &design{sought: m.sought()}
	for _, q := range m.doubted() {
		if q.of == FromWind {
			d.winds = append(d.winds, q)
		}
	}
	weights := make([]float64, len(m.equations))
	for i := range weights {
		weights[i] = 1
	}
	airs := m.airs(&m.typical)
	d.inverse = m.newScatter(airs).covariance(weights)
	if !d.inverse.invert() {
		clear(d.inverse.a)
	}
	d.own = d.inform(m, airs)
	return d
}

// inform is what the stretches tell when the air's work on them is this.
func (d *design) inform(m *model, airs []airWork) information {
	columns := make([][]float64, len(d.sought))
	weighed := make([][]float64, len(d.sought))
	k := len(columns)
	in := information{normal: newSymmetric(k)}
	for i, q := range d.sought {
		columns[i] = m.column(q, &m.typical, airs)
		weighed[i] = d.inverse.times(columns[i])
	}
	for i := range k {
		for j := range k {
			in.normal.a[i*k+j] = dot(weighed[i], columns[j])
		}
	}
	for _, q := range d.winds {
		column := m.column(q, &m.typical, airs)
		lean := make([]float64, k)
		for i := range k {
			lean[i] = dot(weighed[i], column)
		}
		in.lean = append(in.lean, lean)
	}
	return in
}

// with adds what other rides tell.
func (in information) with(o information) information {
	sum := information{normal: newSymmetric(in.normal.n)}
	for i := range sum.normal.a {
		sum.normal.a[i] = in.normal.a[i] + o.normal.a[i]
	}
	for i := range in.lean {
		lean := make([]float64, len(in.lean[i]))
		for k := range lean {
			lean[k] = in.lean[i][k] + o.lean[i][k]
		}
		sum.lean = append(sum.lean, lean)
	}
	return sum
}

// errors returns the covariance of what is sought, Crr known to crrSD beforehand: +Inf for
// not at all.
func (d *design) errors(in information, crrSD float64) (cov symmetric, ok bool) {
	k := in.normal.n
	cov = symmetric{k, append([]float64(nil), in.normal.a...)}
	for i, q := range d.sought {
		sd := q.sd
		if q.of == FromCrr {
			sd = max(crrSD, 1e-9)
		}
		cov.a[i*k+i] += 1 / float64(sd*sd)
	}
	if !cov.invertScaled() {
		return cov, false
	}
	whole := symmetric{k, append([]float64(nil), cov.a...)}
	for w, q := range d.winds {
		shift := cov.times(in.lean[w])
		for i := range k {
			for j := range k {
				whole.a[i*k+j] += float64(shift[i] * shift[j] * q.sd * q.sd)
			}
		}
	}
	return whole, true
}

// judged returns the expected errors, and whether Crr has to be assumed.
func (d *design) judged(m *model, in information) (e Expected, held bool) {
	free, ok := d.errors(in, math.Inf(1))
	k := in.normal.n
	held = !ok || math.Sqrt(free.a[k+1]) > m.known.Crr
	cov := free
	if held {
		if cov, ok = d.errors(in, m.known.Crr); !ok {
			return Expected{CdASE: math.Inf(1), CrrSE: math.Inf(1)}, true
		}
	}
	e = Expected{CdASE: math.Sqrt(cov.a[0]), CrrSE: math.Sqrt(cov.a[k+1])}
	e.Correlation = cov.a[1] / float64(e.CdASE*e.CrrSE)
	if held {
		e.CrrSE, e.Correlation = m.known.Crr, 0
	}
	e.DragDetermined = e.CdASE <= dragShare*m.typical.cda
	e.RollingDetermined = !held && e.CrrSE <= rollingShare*m.typical.crr
	return e, held
}

// holdsCrr reports whether the rides would leave Crr less certain than it is without them.
func (d *design) holdsCrr(m *model) bool {
	_, held := d.judged(m, d.own)
	return held
}

func (d *design) expected(m *model) Expected {
	e, _ := d.judged(m, d.own)
	return e
}

// trials are further rides, the one that tells most first.
func (d *design) trials(m *model) []Trial {
	var out []Trial
	for _, t := range []struct {
		kind TrialKind
		how  manner
	}{{Slower, manner{slowerShare, 1}}, {Reversed, manner{1, -1}}, {Again, manner{1, 1}}} {
		more := d.inform(m, m.airsBy(&m.typical, t.how))
		e, held := d.judged(m, d.own.with(more))
		out = append(out, Trial{t.kind, e, held})
	}
	slices.SortStableFunc(out, func(a, b Trial) int {
		switch x, y := a.short(m), b.short(m); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	return out
}

// short is how far a trial is from determining both values.
func (t *Trial) short(m *model) float64 {
	rolling := t.Expected.CrrSE / (rollingShare * m.typical.crr)
	return max(t.Expected.CdASE/(dragShare*m.typical.cda), rolling)
}
