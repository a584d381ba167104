package calibrate

import (
	"math"

	"parcours.example/analysis/ridden"
	"parcours.example/analysis/ride"
)

// Reason says why a part of a ride doesn't count.
type Reason string

// The reasons.
const (
	// Gap: nothing is known of it.
	Gap Reason = "gap"
	// Standing: the rider stood.
	Standing Reason = "standing"
	// NoPower and NoSpeed: the recording has none.
	NoPower Reason = "no-power"
	NoSpeed Reason = "no-speed"
	// TooSlow: below 1.5 m/s, where neither speed nor power is measured well.
	TooSlow Reason = "too-slow"
	// OffCourse: before the course's start or after its end.
	OffCourse Reason = "off-course"
	// InBend: at or near the speed that the bend, or the way to brake for it, allows.
	InBend Reason = "bend"
	// Braking: the bike lost more speed than air and tyres can take.
	Braking Reason = "braking"
	// TooShort: what is left between two others is too short to tell anything.
	TooShort Reason = "too-short"
)

// Exclusion sums up what was left out for one reason.
type Exclusion struct {
	Reason         Reason
	LengthM, TimeS float64
}

const (
	// slowestMps is the lowest speed that counts.
	slowestMps = 1.5
	// bendShare is the share of the allowed speed from which on a rider is taken to be at
	// the limit: it allows for bends that are tighter than the course file has them.
	bendShare = 0.75
	// brakedAroundS is the time before and after a brake is seen that doesn't count.
	brakedAroundS = 2.0
	// over is the number of intervals on either side over which an acceleration is taken.
	over = 1
	// The most that air and tyres are believed to take: far above anybody's drag area and
	// any road's rolling resistance (../references: upright 0.40–0.60 m², gravel up to
	// 0.015), and a gradient that is off by 4 points.
	mostCdAM2     = 0.8
	mostCrr       = 0.02
	gradientDoubt = 0.04
	// gravity is the standard acceleration of gravity in m/s².
	gravity = 9.80665
)

// laid is a session's points on its road, interval by interval: interval i lies between
// points i−1 and i.
type laid struct {
	points []ridden.Point
	road   *ride.Road
	bike   ride.Bike
	noise  float64 // of the speed, in m/s
	// piece is the index of the road's piece under each point.
	piece []int
	// reason is empty for an interval that counts.
	reason []Reason
}

// newLaid judges each interval.
func newLaid(points []ridden.Point, road *ride.Road, bike ride.Bike, noise float64) *laid {
	l := &laid{points: points, road: road, bike: bike, noise: noise, piece: make([]int, len(points)), reason: make([]Reason, len(points))}
	at := 0
	for i := range points {
		for at < len(road.Pieces)-1 && road.Pieces[at].EndM <= points[i].AtM {
			at++
		}
		l.piece[i] = at
	}
	for i := 1; i < len(points); i++ {
		l.reason[i] = l.judge(i)
	}
	for i := 1; i < len(points); i++ {
		if l.reason[i] == "" && l.brakes(i) {
			l.brake(i)
		}
	}
	return l
}

func (l *laid) judge(i int) Reason {
	from, to := &l.points[i-1], &l.points[i]
	fast := max(from.SpeedMPS, to.SpeedMPS)
	switch {
	case to.Broken:
		return Gap
	case to.Stopped:
		return Standing
	case math.IsNaN(to.PowerW):
		return NoPower
	case math.IsNaN(from.SpeedMPS) || math.IsNaN(to.SpeedMPS):
		return NoSpeed
	case fast < slowestMps:
		return TooSlow
	case to.AtM <= 0 || from.AtM >= l.road.LengthM():
		return OffCourse
	case float64(fast*fast) > bendShare*bendShare*l.limit(i):
		return InBend
	}
	return ""
}

// limit is the lowest square of a speed allowed on the interval.
func (l *laid) limit(i int) float64 {
	limit := math.Inf(1)
	for p := l.piece[i-1]; p <= l.piece[i]; p++ {
		limit = min(limit, l.road.Pieces[p].StartLimit, l.road.Pieces[p].EndLimit)
	}
	return limit
}

// brakes reports whether the bike loses more speed than air and tyres can take.
func (l *laid) brakes(i int) bool {
	first, last := i-1, i
	for first > 0 && i-first <= over && l.reason[first] == "" {
		first--
	}
	for last < len(l.points)-1 && last-i < over && l.reason[last+1] == "" {
		last++
	}
	from, to := &l.points[first], &l.points[last]
	seconds := to.TimeS - from.TimeS
	deceleration := (from.SpeedMPS - to.SpeedMPS) / seconds
	most := l.bike
	most.DragAreaM2, most.Crr = mostCdAM2, mostCrr
	p, v := &l.road.Pieces[l.piece[i]], l.points[i].SpeedMPS
	pedals := l.bike.Efficiency * l.points[i].PowerW / max(v, slowestMps)
	doubt := float64(gradientDoubt*gravity*l.bike.MassKg) + 3*math.Sqrt2*l.noise/seconds*l.bike.InertiaKg
	return float64(l.bike.InertiaKg*deceleration)+pedals > max(most.ForceOn(p, v), 0)+doubt
}

// brake marks an interval as braked, and those around it.
func (l *laid) brake(i int) {
	at := l.points[i].TimeS
	for k := i; k > 0 && at-l.points[k].TimeS <= brakedAroundS; k-- {
		l.mark(k, Braking)
	}
	for k := i; k < len(l.points) && l.points[k-1].TimeS-at <= brakedAroundS; k++ {
		l.mark(k, Braking)
	}
}

func (l *laid) mark(i int, r Reason) {
	if l.reason[i] == "" {
		l.reason[i] = r
	}
}
