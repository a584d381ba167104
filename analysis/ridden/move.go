package ridden

import (
	"fmt"
	"math"

	"parcours.example/analysis/recording"
)

// The device's speeds are used where half of the readings have one, and where they come to
// the way along the course within trustedScale.
const trustedScale = 0.1

// useSpeeds gives the readings their speeds along the course's axis.
func (l *layer) useSpeeds() {
	scale, known := l.scale()
	switch {
	case known && math.Abs(scale-1) <= trustedScale:
		if !l.ride.ByDistance {
			l.ride.Scale = scale
		}
		for _, run := range l.runs {
			for i := range run {
				run[i].speedMPS = l.samples[run[i].sample].SpeedMPS * scale / l.slant(run[i].atM)
			}
		}
	case known:
		l.note("speed-not-trusted", math.NaN(), fmt.Sprintf(
			"The speeds of the recording come to %.0f %% of the way along the course, as in another unit; speeds were taken from places.", 100/scale))
		fallthrough
	default:
		l.derived = true
		for _, run := range l.runs {
			derive(run)
		}
	}
}

// scale is the way along the course over that by the device's speeds, between readings
// that have both.
func (l *layer) scale() (scale float64, known bool) {
	along, shown, speeds, all := 0.0, 0.0, 0, 0
	for _, run := range l.runs {
		all += len(run)
		for i := range run {
			v := l.samples[run[i].sample].SpeedMPS
			if math.IsNaN(v) {
				continue
			}
			speeds++
			if i == 0 {
				continue
			}
			way := float64((v + l.samples[run[i-1].sample].SpeedMPS) / 2 * (run[i].timeS - run[i-1].timeS) / l.slant(run[i].atM))
			if step := run[i].atM - run[i-1].atM; !math.IsNaN(step) && !math.IsNaN(way) {
				along += step
				shown += way
			}
		}
	}
	if 2*speeds < all || shown < leastWayM {
		return 1, false
	}
	return along / shown, true
}

// slant is the length of road on a metre of the axis.
func (l *layer) slant(atM float64) float64 {
	if math.IsNaN(atM) {
		return 1
	}
	g := l.course.Gradient(l.course.PieceAt(atM))
	return math.Sqrt(1 + float64(g*g))
}

// derive gives readings speeds by the places before and after them.
func derive(run []reading) {
	for i := range run {
		a, b := max(i-1, 0), min(i+1, len(run)-1)
		if b > a {
			run[i].speedMPS = (run[b].atM - run[a].atM) / (run[b].timeS - run[a].timeS)
		}
	}
}

// standingMPS is the speed in m/s below which a rider stands.
const standingMPS = 0.3

// unknownVar is the variance of a speed that nothing is known of, in (m/s)².
const unknownVar = 4.0

// move makes points of the readings.
func (l *layer) move() {
	bend := measuredBend
	if l.derived {
		bend = derivedBend
	}
	m := motionOf(l.runs, bend)
	sum, n := 0.0, 0
	lastM := math.Inf(-1)
	for _, run := range l.runs {
		for i, e := range m.smoothed(run) {
			s := &l.samples[run[i].sample]
			at := max(e.atM, lastM)
			speed := max(e.speedMPS, 0) * l.slant(at)
			p := Point{TimeS: s.TimeS, AtM: at, SpeedMPS: speed, PowerW: s.PowerW, Broken: i == 0 && len(l.ride.Points) > 0}
			if k := len(l.ride.Points); k > 0 {
				dt := s.TimeS - l.ride.Points[k-1].TimeS
				p.Stopped = at-lastM < standingMPS*dt
			}
			l.ride.Points = append(l.ride.Points, p)
			lastM = at
			if e.vv > unknownVar {
				l.ride.Points[len(l.ride.Points)-1].SpeedMPS = math.NaN()
				continue
			}
			sum += e.vv
			n++
		}
	}
	l.ride.SpeedNoiseMPS = math.Sqrt(sum / float64(max(n, 1)))
}

// note adds a note; at is a time of the recording.
func (l *layer) note(code string, atS float64, detail string) {
	l.ride.Notes = append(l.ride.Notes, recording.Note{Code: code, Detail: detail, AtS: atS, Count: 1})
}
