package shelter

import (
	"math"

	"parcours.example/analysis/elementary"
)

const (
	// pitchM is from one rider to the next in a line at close riding: a bicycle of 1.7 m
	// and 0.15 m between the wheels (common practice).
	pitchM = 1.85
	// wakeM is how far to the side of its middle the lee of a rider falls to e^−½ of what
	// it is there. It is such that 0.22 is left at a yaw of 20°: there five riders save 11 %
	// of their lateral force in a straight line, 50 % in an echelon (J. Sci. Med. Sport 2022,
	// doi 10.1016/j.jsams.2022.12.003: 30 km/h, a wind of 30 km/h at 40°). That drag follows
	// the same share is our supposition.
	wakeM = 0.387
)

// Gutter returns the share of the lee that is left to a rider who follows straight behind a
// wheel where the air comes from the side, 0…1, at a yaw in degrees (the angle between the
// flow of the air and the direction of travel, either sign): 1 at 0, 0.70 at 10°, 0.22 at
// 20°, 0 from 90° on. The wake drifts to the side by the distance between two riders times
// the tangent of the yaw, and its lee falls to its sides by a bell curve.
func Gutter(yawDeg float64) float64 {
	if math.Abs(yawDeg) >= 90 {
		return 0
	}
	aside := pitchM / wakeM * elementary.Tan(yawDeg*math.Pi/180)
	return elementary.Exp(-0.5 * aside * aside)
}

// Echelon returns the share of the lee that is left in a crosswind to a rider with a number
// of riders of the group ahead, of whom abreast find room side by side across the road, at
// what Gutter gives for the yaw. Those who find room follow the wake to the side and keep
// all of their lee; the others ride straight behind, in the gutter. A part of a place, as
// the half in 4.5 abreast, is shared linearly.
//
// The drag over the drag alone is 1 − (1 − f)·Echelon, where f is the drag that Line,
// Bunch or Table give without the crosswind.
func Echelon(ahead int, abreast, gutter float64) float64 {
	room := min(max(abreast-float64(ahead), 0), 1)
	return room + float64((1-room)*gutter)
}
