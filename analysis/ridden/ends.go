package ridden

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

const (
	// startM is how far in metres before the start a rider may stand who starts there, and
	// from how far a recording that begins or ends beside an end of the course is led on
	// to it; pastStartM is how far behind the start a rider may seem to stand.
	startM     = 25.0
	pastStartM = 10.0
)

// finish cuts the ride at the course's ends and sums it up; it reports false where nothing
// is left.
func (l *layer) finish() bool {
	length := l.course.LengthM()
	r := l.ride
	points := r.Points
	if len(points) < 2 {
		return false
	}
	begun, start := l.beginning(points)
	ended, finish := ending(points, length)
	if ended-begun < 2 {
		return false
	}
	points = points[begun:ended]
	if !math.IsNaN(start) {
		points = l.atStart(points, start)
	}
	if !math.IsNaN(finish) {
		points = atFinish(points, finish, length)
	}
	for i := range points {
		points[i].AtM = min(max(points[i].AtM, 0), length)
	}
	points[0].Broken, points[0].Stopped = false, false
	r.FromS = points[0].TimeS
	for i := range points {
		points[i].TimeS -= r.FromS
	}
	r.Points = points
	r.StartS, r.EndS = start-r.FromS, finish-r.FromS
	r.StartM, r.EndM = points[0].AtM, points[len(points)-1].AtM
	l.setPasses()
	l.setDeviation()
	l.tell()
	return true
}

// slowMPS is the speed in m/s of a rider who has just moved off.
const slowMPS = 2.5

// beginning returns the first point that counts, and when the start was crossed, NaN if
// it wasn't: where the rider stood beside it, when he moved off.
func (l *layer) beginning(points []Point) (first int, startS float64) {
	stood := -1
	for i := range points {
		p := &points[i]
		if p.AtM > pastStartM {
			break
		}
		if p.AtM >= -startM && p.SpeedMPS < max(standingMPS/2, 3*l.ride.SpeedNoiseMPS) {
			stood = i
		}
	}
	if p := &points[0]; stood < 0 && math.Abs(p.AtM) <= startM && p.SpeedMPS < slowMPS {
		stood = 0
	}
	if stood >= 0 && stood+1 < len(points) {
		return stood, points[stood].TimeS
	}
	i := sort.Search(len(points), func(i int) bool { return points[i].AtM >= 0 })
	switch {
	case i == len(points):
		return i, math.NaN()
	case i > 0 && !points[i].Broken:
		return i, crossing(&points[i-1], &points[i], 0)
	case points[i].AtM <= startM && points[i].SpeedMPS > 1:
		return i, points[i].TimeS - points[i].AtM/points[i].SpeedMPS
	}
	return i, math.NaN()
}

// ending returns the end of the points that count, and when the finish was crossed, NaN
// if it wasn't.
func ending(points []Point, length float64) (end int, finishS float64) {
	i := sort.Search(len(points), func(i int) bool { return points[i].AtM >= length })
	last := &points[len(points)-1]
	switch {
	case i == 0:
		return 0, math.NaN()
	case i < len(points) && !points[i].Broken:
		return i, crossing(&points[i-1], &points[i], length)
	case i == len(points) && length-last.AtM <= startM && last.SpeedMPS > 1:
		return i, last.TimeS + (length-last.AtM)/last.SpeedMPS
	case i == len(points) && length-last.AtM <= startM/2:
		return i, last.TimeS
	}
	return i, math.NaN()
}

// crossing is when a place between two points was passed.
func crossing(a, b *Point, atM float64) float64 {
	if b.AtM == a.AtM {
		return b.TimeS
	}
	return a.TimeS + float64((atM-a.AtM)/(b.AtM-a.AtM)*(b.TimeS-a.TimeS))
}

// leastStepS is the shortest time between points in seconds.
const leastStepS = 1e-3

// atStart lets the points begin at the start.
func (l *layer) atStart(points []Point, startS float64) []Point {
	if points[0].TimeS-startS < leastStepS {
		points[0].AtM = 0
		return points
	}
	p := points[0]
	p.TimeS, p.AtM = startS, 0
	return append([]Point{p}, points...)
}

// atFinish lets the points end at the finish.
func atFinish(points []Point, finishS, length float64) []Point {
	last := &points[len(points)-1]
	if finishS-last.TimeS < leastStepS {
		last.AtM = length
		return points
	}
	p := *last
	p.TimeS, p.AtM, p.Broken = finishS, length, false
	return append(slices.Clip(points), p)
}

// at returns when a place was passed, NaN if it wasn't or nobody knows when.
func (r *Ride) at(atM float64) float64 {
	p := r.Points
	i := sort.Search(len(p), func(i int) bool { return p[i].AtM >= atM })
	switch {
	case i == len(p):
		return math.NaN()
	case p[i].AtM == atM:
		return p[i].TimeS
	case i == 0 || p[i].Broken && p[i].AtM-p[i-1].AtM > startM:
		return math.NaN()
	}
	return crossing(&p[i-1], &p[i], atM)
}

// setPasses times the parts of the course.
func (l *layer) setPasses() {
	r := l.ride
	for _, part := range l.course.Parts {
		pass := Pass{Lap: part.Lap, StartM: part.StartM, EndM: part.EndM, StartS: r.at(part.StartM), EndS: r.at(part.EndM)}
		if part.StartM == 0 {
			pass.StartS = r.StartS
		}
		r.Passes = append(r.Passes, pass)
	}
}

// setDeviation sums up the distances from the course.
func (l *layer) setDeviation() {
	if l.ride.ByDistance {
		return
	}
	var off []float64
	d := Deviation{}
	for _, run := range l.runs {
		for i := range run {
			at := run[i].atM
			if math.IsNaN(at) || at < l.ride.StartM || at > l.ride.EndM {
				continue
			}
			m := l.offM[run[i].sample]
			off = append(off, m)
			if m > d.LargestM {
				d.LargestM, d.LargestAtM = m, at
			}
		}
	}
	if len(off) == 0 {
		return
	}
	slices.Sort(off)
	d.MedianM, d.P95M = off[len(off)/2], off[len(off)*95/100]
	l.ride.Deviation = d
}

// tell notes what the ride lacks of the course.
func (l *layer) tell() {
	r, length := l.ride, l.course.LengthM()
	if r.StartM > startM || r.EndM < length-startM {
		l.note("partial-ride", math.NaN(), fmt.Sprintf(
			"The ride covers the course from %.2f to %.2f km of %.2f km.%s", r.StartM/1000, r.EndM/1000, length/1000, l.lapWords()))
	}
	for i := 1; i < len(r.Points); i++ {
		p, before := &r.Points[i], &r.Points[i-1]
		if p.Broken && p.AtM-before.AtM > max(startM, p.TimeS-before.TimeS) { // at 1 m/s a rider stands who drifts
			l.note("stretch-unknown", r.FromS+before.TimeS, fmt.Sprintf(
				"Nothing is known of the course from %.2f to %.2f km, over %.0f s: the rider was away from it or not recorded.", before.AtM/1000, p.AtM/1000, p.TimeS-before.TimeS))
		}
	}
	if r.ByDistance {
		l.note("laid-by-distance", math.NaN(), fmt.Sprintf(
			"There are no positions: the ride was laid by its distance, each metre counted as %.4f m, from the start of the course.", r.Scale))
	}
}

// lapWords tells which laps are whole.
func (l *layer) lapWords() string {
	whole, laps := 0, 0
	for _, p := range l.ride.Passes {
		if p.Lap == 0 {
			continue
		}
		laps++
		if !math.IsNaN(p.TimeS()) {
			whole++
		}
	}
	if laps == 0 {
		return ""
	}
	return fmt.Sprintf(" Of %d laps %d are whole; where one looks like the other, the first ones are taken.", laps, whole)
}
