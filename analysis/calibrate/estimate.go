package calibrate

import (
	"math"

	"parcours.example/analysis/elementary"
)

// estimate gathers what was found.
func (s *solver) estimate() *Estimate {
	l := s.last
	e := &Estimate{
		CdAM2: s.state.cda, Crr: s.state.crr, CrrAssumed: s.crrHeld,
		PowerScale: s.state.scale, PowerOffsetW: s.state.offset,
		Excluded: s.excluded, Assumptions: s.assumptions,
		ScatterPct: 100 * typicalScatter * math.Sqrt(s.scatter.factors[ownPart]),
	}
	near, far := s.elevationM(0), driftM
	e.ElevationErrorM = math.Sqrt(float64(near*near*s.scatter.factors[elevationPart]) + float64(far*far*s.scatter.factors[driftPart]))
	cov := s.errors(e)
	k := cov.n
	e.CdASE = math.Sqrt(cov.a[0])
	if s.crrHeld {
		e.CrrSE = s.known.Crr
	} else {
		e.CrrSE = math.Sqrt(cov.a[k+1])
		e.Correlation = cov.a[1] / float64(e.CdASE*e.CrrSE)
	}
	for i, q := range l.sought {
		switch q.of {
		case FromPower:
			e.PowerScaleSE = math.Sqrt(cov.a[i*k+i])
		case soughtOffset:
			e.PowerOffsetWSE = math.Sqrt(cov.a[i*k+i])
		}
	}
	e.Winds = s.foundWinds(cov)
	e.Stretches = s.stretches()
	return e
}

// errors returns the covariance of what was sought with everything that is uncertain in
// it, and notes what each source brings.
func (s *solver) errors(e *Estimate) symmetric {
	l := s.last
	k := l.cov.n
	whole := symmetric{k, append([]float64(nil), l.cov.a...)}
	e.Sources = append(e.Sources, Source{FromRides, math.Sqrt(l.cov.a[0]), 0})
	if !s.crrHeld {
		e.Sources[0].CrrSE = math.Sqrt(l.cov.a[k+1])
	}
	airs := s.airs(&s.state)
	for _, q := range s.doubted() {
		if !(q.sd > 0) {
			continue
		}
		shift := l.shift(s.column(q, &s.state, airs))
		for i := range k {
			for j := range k {
				whole.a[i*k+j] += float64(shift[i] * shift[j] * q.sd * q.sd)
			}
		}
		crr := 0.0
		switch {
		case !s.crrHeld:
			crr = math.Abs(shift[1] * q.sd)
		case q.of == FromCrr:
			crr = q.sd
		}
		e.addSource(q.of, math.Abs(shift[0]*q.sd), crr)
	}
	return whole
}

// addSource adds a source's part, or adds to it where it is there already.
func (e *Estimate) addSource(of SourceOf, cda, crr float64) {
	for i := range e.Sources {
		if f := &e.Sources[i]; f.Of == of {
			f.CdASE, f.CrrSE = elementary.Hypot(f.CdASE, cda), elementary.Hypot(f.CrrSE, crr)
			return
		}
	}
	e.Sources = append(e.Sources, Source{of, cda, crr})
}

// foundWinds are the sessions' winds with what was found added.
func (s *solver) foundWinds(cov symmetric) []Wind {
	winds := make([]Wind, len(s.grounds))
	for i, g := range s.grounds {
		c, added := g.road.Conditions, s.state.winds[i]
		if c.Indoor {
			continue
		}
		if g.compass.sin == nil {
			winds[i] = Wind{WindMps: math.NaN(), WindFromDeg: math.NaN(), HeadwindMps: c.HeadwindMps + added[0]}
			continue
		}
		north, east := added[0], added[1]
		if c.WindMps > 0 {
			sin, cos := elementary.Sincos(c.WindFromDeg * math.Pi / 180)
			north += float64(c.WindMps * cos)
			east += float64(c.WindMps * sin)
		}
		winds[i] = Wind{
			WindMps:     elementary.Hypot(north, east),
			WindFromDeg: math.Mod(elementary.Atan2(east, north)*180/math.Pi+360, 360),
			HeadwindMps: math.NaN(),
		}
	}
	for k, q := range s.last.sought {
		if q.of != FromWind {
			continue
		}
		se, w := math.Sqrt(cov.a[k*cov.n+k]), &winds[q.session]
		switch {
		case s.grounds[q.session].compass.sin == nil:
			w.HeadwindSE = se
		case q.component == 0:
			w.NorthSE = se
		default:
			w.EastSE = se
		}
	}
	return winds
}

// stretches are the equations as they came out.
func (s *solver) stretches() []Stretch {
	airs := s.airs(&s.state)
	left := s.residuals(&s.state, airs)
	v := s.scatter.covariance(ones(len(left)))
	out := make([]Stretch, len(left))
	for i := range out {
		q := &s.equations[i]
		points := s.grounds[q.session].points
		from, to := &points[q.span.first-1], &points[q.span.last]
		drag := s.state.cda * airs[i].j
		out[i] = Stretch{
			Session: q.session, StartM: from.AtM, EndM: to.AtM, StartS: from.TimeS, EndS: to.TimeS,
			DragFactor: 1 + left[i]/drag, DragFactorSE: math.Sqrt(v.a[i*v.n+i]) / drag,
			Weight: s.mixture.weights[i], Class: s.mixture.class[i],
		}
		if !(drag > 0) {
			out[i].DragFactor, out[i].DragFactorSE = math.NaN(), math.NaN()
		}
	}
	return out
}

func ones(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = 1
	}
	return v
}
