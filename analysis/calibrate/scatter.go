package calibrate

import "math"

// The errors that are taken for granted before any is seen; common practice where no
// source is named.
const (
	// typicalScatter is the standard deviation of the resistance over a minute as a share
	// of it: position on the bike, gusts, road. Martin et al. 1998 found 2.7 W between
	// model and power meter over trials of about a minute at about 200 W, with the wind
	// measured beside the road.
	typicalScatter = 0.015
	// powerScatter is the standard deviation of the power from one sample to the next as a
	// share of it.
	powerScatter = 0.05
	// leastElevationM and mostElevationM bound what a course's own noise says about the
	// error of its elevation at a place, which is alike over nearM.
	leastElevationM, mostElevationM = 0.1, 2.0
	nearM                           = 300.0
	// driftM is the error of the elevation that is alike over farM: a barometer's, or a
	// survey's.
	driftM, farM = 0.7, 5000.0
)

// The parts of the covariance.
const (
	ownPart = iota
	elevationPart
	driftPart
	sensorPart
	parts
)

// scatter is the covariance of the residuals in parts: new in each stretch, of the
// elevation near and far, and of the sensors at the ends. Factors multiply their variances.
type scatter struct {
	// own are the variances of the first, a diagonal.
	own     []float64
	shared  [parts]symmetric
	factors [parts]float64
}

// newScatter lays down the covariance of the equations as it is taken for granted.
func (m *model) newScatter(airs []airWork) *scatter {
	n := len(m.equations)
	s := &scatter{own: make([]float64, n)}
	for k := range s.factors {
		s.factors[k] = 1
	}
	for i := range m.equations {
		q := &m.equations[i]
		resistance := float64(m.typical.cda*math.Abs(airs[i].j)) + float64(m.typical.crr*q.rollingJ)
		sd := typicalScatter * resistance * math.Sqrt(60/q.lastS)
		s.own[i] = float64(sd*sd) + float64(powerScatter*powerScatter*q.workSquares)
	}
	for k, alike := range [parts]func(a, b *end) float64{elevationPart: m.elevation, driftPart: drift, sensorPart: sensed} {
		if alike != nil {
			s.shared[k] = m.shared(alike)
		}
	}
	return s
}

// shared is the covariance of the equations by an error that the ends of stretches have:
// one at its end adds to a stretch, one at its start is taken off.
func (m *model) shared(cov func(a, b *end) float64) symmetric {
	n := len(m.equations)
	s := newSymmetric(n)
	for i := range n {
		q := &m.equations[i]
		for k := range i + 1 {
			o := &m.equations[k]
			v := cov(&q.end, &o.end) + cov(&q.start, &o.start) - cov(&q.end, &o.start) - cov(&q.start, &o.end)
			s.a[i*n+k], s.a[k*n+i] = v, v
		}
	}
	return s
}

// elevation is the covariance in J² of the potential energies at two ends by what is alike
// near by.
func (m *model) elevation(a, b *end) float64 {
	return m.elevationM(a.session) * m.elevationM(b.session) * a.alike(b, nearM) * a.massKg * b.massKg * (gravity * gravity)
}

// drift is that by what is alike far away.
func drift(a, b *end) float64 {
	return driftM * driftM * a.alike(b, farM) * a.massKg * b.massKg * (gravity * gravity)
}

// elevationM is the error in metres that a session's course says its elevation has.
func (m *model) elevationM(session int) float64 {
	return min(max(m.grounds[session].session.Course.Quality.ElevationNoiseM, leastElevationM), mostElevationM)
}

// sensed is the covariance in J² of two ends by the sensors, which they only share where
// they are the same moment of a ride.
func sensed(a, b *end) float64 {
	if a.session != b.session || a.point != b.point {
		return 0
	}
	return float64(a.sensorJ * b.sensorJ)
}

// covariance returns the whole, with each stretch's own variance over its weight.
func (s *scatter) covariance(weights []float64) symmetric {
	n := len(s.own)
	v := newSymmetric(n)
	near, far, sensor := s.factors[elevationPart], s.factors[driftPart], s.factors[sensorPart]
	for i := range n {
		row := v.row(i)[:i+1]
		a, b, c := s.shared[elevationPart].row(i), s.shared[driftPart].row(i), s.shared[sensorPart].row(i)
		for k := range row {
			row[k] = float64(near*a[k]) + float64(far*b[k]) + float64(sensor*c[k])
		}
		row[i] += s.factors[ownPart] * s.own[i] / weights[i]
	}
	return v
}

// The bounds of the factors and of one change of them.
const (
	leastFactor, mostFactor = 1e-4, 1e4
	mostChange              = 8.0
	// negligible is a factor below which a change is none.
	negligible = 1e-3
)

// update moves the variances one step towards those of the greatest restricted likelihood,
// which are where for each part V of the covariance r'PVPr = tr(PV) (Patterson & Thompson
// 1971, Biometrika 58:545–554), by the fixed point of Wood & Fasiolo 2017 (Biometrics
// 73:1071–1081). It returns the largest change as a share. p is P and pr is P·r.
func (s *scatter) update(p symmetric, pr, weights []float64) float64 {
	var found, expected [parts]float64
	for i := range s.own {
		own := s.own[i] / weights[i]
		found[ownPart] += float64(own * pr[i] * pr[i])
		expected[ownPart] += float64(own * p.a[i*p.n+i])
		for k := ownPart + 1; k < parts; k++ {
			row := s.shared[k].row(i)
			found[k] += float64(pr[i] * dot(row, pr))
			expected[k] += dot(p.row(i), row)
		}
	}
	most := 0.0
	for k := range s.factors {
		if !(expected[k] > 0) {
			continue
		}
		change := min(max(found[k]/expected[k], 1/mostChange), mostChange)
		next := min(max(s.factors[k]*change, leastFactor), mostFactor)
		if max(s.factors[k], next) > negligible {
			most = max(most, math.Abs(next/s.factors[k]-1))
		}
		s.factors[k] = next
	}
	return most
}
