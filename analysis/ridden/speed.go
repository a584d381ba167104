package ridden

import (
	"math"
	"slices"
)

// reading is what is known of a moment of the ride: where on the course, NaN where there
// is no position, and how fast along the course's axis, NaN where no speed was measured.
type reading struct {
	timeS, atM, speedMPS float64
	// sample is its index in the recording.
	sample int
}

// The motion along the course is a speed that wanders, observed through places and
// speeds with noise: a linear model, of which place and speed are estimated by a Kalman
// filter and smoothed backward (Rauch, Tung & Striebel, Maximum Likelihood Estimates of
// Linear Dynamic Systems, AIAA J. 3, 1965). A receiver's error wanders over a minute, so
// that its places weigh little beside speeds from one second to the next: they only keep
// the place from drifting.
type motion struct {
	// placeVar and speedVar are the variances of the readings, wander the variance of the
	// speed's change in a second.
	placeVar, speedVar, wander float64
}

const (
	// placeSpreadM stands in for a receiver's error of 2 to 3 m that lasts a minute.
	placeSpreadM = 8.0
	// leastSpeedMPS bounds the noise of speeds, which files give to 1 mm/s at best.
	leastSpeedMPS = 0.02
	// The wander of the speed in (m/s)² a second is measured within these bounds: those of
	// an even ride and of a sprint.
	leastWander, mostWander = 0.12 * 0.12, 0.7 * 0.7
	// wanderSteps is over how many readings it is measured.
	wanderSteps = 8
)

// The variance of second differences over that of independent speeds, and over that of
// speeds derived from places, of which neighbours share one: there a walk of the places
// with steps of variance q² per second makes speeds (wᵢ + wᵢ₊₁)/2 and second differences
// (wᵢ₊₁ − wᵢ − wᵢ₋₁ + wᵢ₋₂)/2 of variance q², and a place's own jitter e adds 2.5·e²;
// half of both is what tells in a smoothed speed.
const (
	measuredBend = 6.0
	derivedBend  = 2.0
)

// motionOf measures the noise of speeds by their second differences, to which a ride
// adds little, and the wander by what differences over longer times have beyond that.
func motionOf(runs [][]reading, bend float64) motion {
	var bends, changes []float64
	for _, r := range runs {
		for i := range r {
			if i >= 2 {
				bends = appendNumber(bends, r[i].speedMPS-2*r[i-1].speedMPS+r[i-2].speedMPS)
			}
			if i >= wanderSteps {
				if dt := r[i].timeS - r[i-wanderSteps].timeS; dt < 3*wanderSteps {
					changes = appendNumber(changes, (r[i].speedMPS-r[i-wanderSteps].speedMPS)/math.Sqrt(dt))
				}
			}
		}
	}
	noise := max(spread(bends)/math.Sqrt(bend), leastSpeedMPS)
	m := motion{placeVar: placeSpreadM * placeSpreadM, speedVar: float64(noise * noise)}
	m.wander = min(max(meanSquare(changes)-float64(2*m.speedVar/wanderSteps), leastWander), mostWander)
	return m
}

// appendNumber appends a number that is known.
func appendNumber(to []float64, v float64) []float64 {
	if math.IsNaN(v) {
		return to
	}
	return append(to, v)
}

// spread is the standard deviation of normal numbers about 0, by the median of their
// sizes, which outliers don't move; 0 for none.
func spread(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	for i := range v {
		v[i] = math.Abs(v[i])
	}
	slices.Sort(v)
	const normal = 1.4826
	return normal * v[len(v)/2]
}

// meanSquare is the mean of the squares of numbers but the largest fiftieth; 0 for none.
func meanSquare(v []float64) float64 {
	for i := range v {
		v[i] *= v[i]
	}
	slices.Sort(v)
	v = v[:len(v)-len(v)/50]
	sum := 0.0
	for _, square := range v {
		sum += square
	}
	return sum / max(float64(len(v)), 1)
}

// estimate is the place and the speed at a moment with their covariance.
type estimate struct {
	atM, speedMPS float64
	pp, pv, vv    float64
}

// smoothed returns place and speed at each reading of a run.
func (m *motion) smoothed(r []reading) []estimate {
	filtered := make([]estimate, len(r))
	ahead := make([]estimate, len(r)) // as predicted
	e := m.begin(r)
	for i := range r {
		if i > 0 {
			e.ride(r[i].timeS-r[i-1].timeS, m.wander)
		}
		ahead[i] = e
		if !math.IsNaN(r[i].atM) {
			e.seePlace(r[i].atM, m.placeVar)
		}
		if !math.IsNaN(r[i].speedMPS) {
			e.seeSpeed(r[i].speedMPS, m.speedVar)
		}
		filtered[i] = e
	}
	for i := len(r) - 2; i >= 0; i-- {
		filtered[i].learn(&ahead[i+1], &filtered[i+1], r[i+1].timeS-r[i].timeS)
	}
	return filtered
}

// begin is what is known before the first reading: a place near the first ones, and some
// speed.
func (m *motion) begin(r []reading) estimate {
	const wide = 1e4
	e := estimate{pp: wide, vv: 100}
	for i := range r {
		if !math.IsNaN(r[i].atM) {
			e.atM = r[i].atM
			break
		}
	}
	for i := range r {
		if !math.IsNaN(r[i].speedMPS) {
			e.speedMPS = r[i].speedMPS
			break
		}
	}
	return e
}

// ride goes on for some seconds.
func (e *estimate) ride(dt, wander float64) {
	e.atM += float64(e.speedMPS * dt)
	e.pp += float64(2*dt*e.pv) + float64(dt*dt*e.vv) + float64(wander*dt*dt*dt/3)
	e.pv += float64(dt*e.vv) + float64(wander*dt*dt/2)
	e.vv += float64(wander * dt)
}

func (e *estimate) seePlace(atM, variance float64) {
	gain := 1 / (e.pp + variance)
	kp, kv := e.pp*gain, e.pv*gain
	off := atM - e.atM
	e.atM += float64(kp * off)
	e.speedMPS += float64(kv * off)
	e.vv -= float64(kv * e.pv)
	e.pv -= float64(kp * e.pv)
	e.pp -= float64(kp * e.pp)
}

func (e *estimate) seeSpeed(mps, variance float64) {
	gain := 1 / (e.vv + variance)
	kp, kv := e.pv*gain, e.vv*gain
	off := mps - e.speedMPS
	e.atM += float64(kp * off)
	e.speedMPS += float64(kv * off)
	e.pp -= float64(kp * e.pv)
	e.pv -= float64(kv * e.pv)
	e.vv -= float64(kv * e.vv)
}

// learn takes in what the readings after this one told: ahead is the next moment as it
// was predicted from here, next as it turned out.
func (e *estimate) learn(ahead, next *estimate, dt float64) {
	// G = P·Fᵀ·P̂⁻¹ with F = (1 dt; 0 1).
	a, b := e.pp+float64(dt*e.pv), e.pv
	c, d := e.pv+float64(dt*e.vv), e.vv
	det := float64(ahead.pp*ahead.vv) - float64(ahead.pv*ahead.pv)
	g11 := (float64(a*ahead.vv) - float64(b*ahead.pv)) / det
	g12 := (float64(b*ahead.pp) - float64(a*ahead.pv)) / det
	g21 := (float64(c*ahead.vv) - float64(d*ahead.pv)) / det
	g22 := (float64(d*ahead.pp) - float64(c*ahead.pv)) / det
	dp, dv := next.atM-ahead.atM, next.speedMPS-ahead.speedMPS
	e.atM += float64(g11*dp) + float64(g12*dv)
	e.speedMPS += float64(g21*dp) + float64(g22*dv)
	pp, pv, vv := next.pp-ahead.pp, next.pv-ahead.pv, next.vv-ahead.vv
	// P += G·(next − ahead)·Gᵀ.
	u11, u12 := float64(g11*pp)+float64(g12*pv), float64(g11*pv)+float64(g12*vv)
	u21, u22 := float64(g21*pp)+float64(g22*pv), float64(g21*pv)+float64(g22*vv)
	e.pp += float64(u11*g11) + float64(u12*g12)
	e.pv += float64(u11*g21) + float64(u12*g22)
	e.vv += float64(u21*g21) + float64(u22*g22)
}
