package hindsight

import (
	"math"
	"sort"

	"parcours.example/analysis/ridden"
	"parcours.example/analysis/ride"
)

// reading is a recording made ready: what was given from one point to the next.
type reading struct {
	points   []ridden.Point
	hasPower bool
	startMPS float64
	lengthM  float64
	// powerW, dt and stands are of the intervals: the power with its gaps filled, how long
	// each takes, and whether the rider stands.
	powerW, dt []float64
	stands     []bool
	unknownS   float64
}

// MeanPowerW is the mean of a ride's recorded power over the time ridden, in W; NaN without.
func MeanPowerW(r ridden.Ride) float64 { return readingOf(r, math.Inf(1)).meanW() }

// nearbyS is how far on either side of a gap the power is looked at that fills it, in s.
const nearbyS = 30.0

func readingOf(r ridden.Ride, lengthM float64) *reading {
	p := r.Points
	n := max(len(p)-1, 0)
	out := &reading{points: p, lengthM: lengthM, powerW: make([]float64, n), dt: make([]float64, n), stands: make([]bool, n)}
	if len(p) > 0 && !math.IsNaN(p[0].SpeedMPS) {
		out.startMPS = max(p[0].SpeedMPS, 0)
	}
	for i := range n {
		out.dt[i] = p[i+1].TimeS - p[i].TimeS
		out.stands[i] = p[i+1].Stopped
		out.powerW[i] = p[i+1].PowerW
		if p[i+1].Broken {
			out.powerW[i] = math.NaN() // what was given in between isn't known
		}
		out.hasPower = out.hasPower || !math.IsNaN(out.powerW[i])
		if out.stands[i] {
			out.powerW[i] = 0
		}
	}
	if out.hasPower {
		out.fill()
	}
	return out
}

// fill gives the intervals without a power the mean of the power nearby, or of the whole.
func (r *reading) fill() {
	whole := r.mean(0, len(r.dt))
	for i := 0; i < len(r.dt); {
		if !math.IsNaN(r.powerW[i]) {
			i++
			continue
		}
		end := i
		for end < len(r.dt) && math.IsNaN(r.powerW[end]) {
			end++
		}
		from := sort.Search(i, func(k int) bool { return r.points[k].TimeS >= r.points[i].TimeS-nearbyS })
		to := end + sort.Search(len(r.dt)-end, func(k int) bool { return r.points[end+k].TimeS > r.points[end].TimeS+nearbyS })
		near := r.mean(from, to)
		if math.IsNaN(near) {
			near = whole
		}
		for ; i < end; i++ {
			r.unknownS += r.dt[i]
			r.powerW[i] = near
		}
	}
}

// mean is the mean of the known power over the time ridden in the intervals from…to−1.
func (r *reading) mean(from, to int) float64 {
	work, time := 0.0, 0.0
	for i := from; i < to; i++ {
		if !r.stands[i] && !math.IsNaN(r.powerW[i]) {
			work += float64(r.powerW[i] * r.dt[i])
			time += r.dt[i]
		}
	}
	return work / time
}

func (r *reading) meanW() float64 {
	if !r.hasPower {
		return math.NaN()
	}
	return r.mean(0, len(r.dt))
}

func (r *reading) unknownShare() float64 {
	if m := r.moving(); m > 0 {
		return r.unknownS / m
	}
	return 0
}

func (r *reading) elapsed() float64 {
	if len(r.points) == 0 {
		return 0
	}
	return r.points[len(r.points)-1].TimeS - r.points[0].TimeS
}

func (r *reading) moving() float64 { return r.elapsed() - r.stoodS(0, math.Inf(1)) }

// stoodS is how long the rider stood at positions from…to, to excluded.
func (r *reading) stoodS(from, to float64) float64 {
	sum := 0.0
	for i, stands := range r.stands {
		if at := r.points[i].AtM; stands && at >= from && at < to {
			sum += r.dt[i]
		}
	}
	return sum
}

// workJ is the work at positions up to one.
func (r *reading) workJ(atM float64) float64 {
	sum := 0.0
	for i, w := range r.powerW {
		from, to := r.points[i].AtM, r.points[i+1].AtM
		switch {
		case to <= atM:
			sum += float64(w * r.dt[i])
		case from < atM:
			sum += float64(w*r.dt[i]) * (atM - from) / (to - from)
		}
	}
	return sum
}

// clockS is the time since the start at which a position was first reached.
func (r *reading) clockS(atM float64) float64 {
	p := r.points
	i := sort.Search(len(p), func(i int) bool { return p[i].AtM >= atM })
	switch {
	case i == 0:
		return 0
	case i == len(p):
		return r.elapsed()
	}
	t := p[i-1].TimeS + (p[i].TimeS-p[i-1].TimeS)*(atM-p[i-1].AtM)/(p[i].AtM-p[i-1].AtM)
	return t - p[0].TimeS
}

// leastStepM is the shortest step of recorded power, in m.
const leastStepM = 2.0

// steps are the recorded power by place, averaged over lengths of at least leastM.
func (r *reading) steps(leastM float64) []ride.Step {
	var steps []ride.Step
	from, work, time := 0.0, 0.0, 0.0
	for i, w := range r.powerW {
		if !r.stands[i] {
			work += float64(w * r.dt[i])
			time += r.dt[i]
		}
		if at := r.points[i+1].AtM; at-from >= max(leastM, leastStepM) && time > 0 {
			steps = append(steps, ride.Step{EndM: at, PowerW: max(work/time, 0)})
			from, work, time = at, 0, 0
		}
	}
	switch {
	case len(steps) == 0:
		steps = []ride.Step{{PowerW: max(r.meanW(), 0)}}
	case time > 0 && r.lengthM-from > leastStepM:
		steps = append(steps, ride.Step{PowerW: max(work/time, 0)})
	}
	steps[len(steps)-1].EndM = math.Inf(1)
	return steps
}
