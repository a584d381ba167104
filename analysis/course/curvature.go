package course

import (
	"context"
	"math"

	"parcours.example/analysis/elementary"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/smooth"
)

const (
	// curvatureReachM is the length on either side of a node over which the heading
	// is averaged for its curvature.
	curvatureReachM = 20
	// headingStepM is the shortest step whose heading is taken: with a receiver's
	// error of a metre or two, shorter ones may point anywhere.
	headingStepM = 6.0
	// cornerM is how far before and after a point the road turns towards the next
	// one at most: points farther apart than twice that have a straight between them.
	cornerM = 25.0
	// A long step whose ends both turn the same way, by less than curveTurnDeg and one
	// by no more than curveRatio of the other, is a chord of a wide bend all the same.
	curveTurnDeg = 75.0
	curveRatio   = 4.0
	// lastStepShare of the step before it is the shortest last step whose heading is
	// taken: where a recording stops tells nothing of the road.
	lastStepShare = 0.25
)

// turning returns the direction of travel in degrees on each piece between the nodes
// at, without jumps of 360° and without noise. A receiver's error wanders and makes
// neighbouring headings scatter about a line that bends far less; that scatter shows
// in the points as read, before they are smoothed. Point i as read is pos[i], its
// distance along the course s[i]. It fails with the context's error.
func turning(ctx context.Context, s []float64, pos []geodesy.Vec, at []float64) ([]float64, error) {
	var middle, half, heading []float64
	last := 0
	for i := 1; i < len(s); i++ {
		least := headingStepM
		if n := len(half); n > 0 && i+1 == len(s) {
			least = max(least, float64(2*lastStepShare*half[n-1]))
		}
		if s[i]-s[last] < least && (i+1 < len(s) || heading != nil) {
			continue
		}
		h := geodesy.Bearing(pos[last], pos[i])
		if n := len(heading); n > 0 {
			h = heading[n-1] + math.Remainder(h-heading[n-1], 360)
		}
		middle, half = append(middle, (s[last]+s[i])/2), append(half, (s[i]-s[last])/2)
		heading = append(heading, h)
		last = i
	}
	if len(heading) >= minSmoothed {
		fit, err := smooth.Line(ctx, smooth.Samples{X: middle, Y: [][]float64{heading}}, smooth.Options{})
		if err != nil {
			return nil, err
		}
		heading = fit.Y[0]
	}
	middle, heading = withStraights(middle, half, heading)
	pieces := make([]float64, len(at)-1)
	for i := range pieces {
		pieces[i] = (at[i] + at[i+1]) / 2
	}
	return interpolateAll(middle, heading, pieces), nil
}

// A receiver's slow wander about a straight road makes the line longer. wanderTold is the
// share from which to warn; a difference of direction above widestWander is a corner.
const (
	wanderTold   = 0.01
	widestWander = 40.0
)

// tellWander warns of a recorded line that is longer than the road for wandering about
// it: by 1 − cos of the angle between its direction and that of the road, which is the
// direction free of noise. What bends as slowly as a road stays unseen; in straight roads
// made to wander by 3 to 8 m about two thirds of what they are too long is seen.
func (c *Course) tellWander() {
	if c.Quality.PositionNoiseM == 0 || c.Quality.MedianStepM > denseStepM {
		return
	}
	extra := 0.0
	for i, road := range c.turning {
		off := math.Remainder(geodesy.Bearing(c.Pos[i], c.Pos[i+1])-road, 360)
		if math.Abs(off) < widestWander {
			_, cos := elementary.Sincos(off * math.Pi / 180)
			extra += float64((1 - cos) * (c.S[i+1] - c.S[i]))
		}
	}
	if extra > wanderTold*c.LengthM() {
		c.Quality.warn("position-wander", math.NaN(), "the recorded line wanders about the road: the course is some %.0f m (%.1f %%) too long", extra, 100*extra/c.LengthM())
	}
}

// withStraights returns where which heading holds on a line of steps, given by their
// middles, half lengths and headings: at the middle of a short step or of one that is a
// chord of a wide bend, else on all but the ends. Between points 50 m apart the line may
// well be one bend; a corner of streets drawn with a point at each crossing is none of
// 200 m.
func withStraights(middle, half, heading []float64) (at, holds []float64) {
	turn := func(i int) float64 { // at the start of step i
		if i <= 0 || i >= len(heading) {
			return 0
		}
		return heading[i] - heading[i-1]
	}
	for i, m := range middle {
		straight := half[i] - cornerM
		if straight <= 0 || alongBend(turn(i), turn(i+1)) {
			at, holds = append(at, m), append(holds, heading[i])
			continue
		}
		at, holds = append(at, m-straight, m+straight), append(holds, heading[i], heading[i])
	}
	return at, holds
}

// alongBend reports whether a step between two turns in degrees is a chord of a bend.
func alongBend(a, b float64) bool {
	if (a > 0) != (b > 0) {
		return false
	}
	less, more := min(math.Abs(a), math.Abs(b)), max(math.Abs(a), math.Abs(b))
	return more < curveTurnDeg && more <= curveRatio*less
}

// curvatures returns the signed curvature at each node in 1/m, positive to the
// right: the turn between the mean headings of the stretches of curvatureReachM
// before and after the node, divided by the distance between their middles; 0 at
// the ends.
func curvatures(s, turning []float64) []float64 {
	sum := make([]float64, len(s)) // ∫ heading ds
	for i, h := range turning {
		sum[i+1] = sum[i] + float64(h*(s[i+1]-s[i]))
	}
	k := make([]float64, len(s))
	lo, hi := 0, 0
	for i := 1; i+1 < len(s); i++ {
		for lo+1 < i && s[i]-s[lo+1] >= curvatureReachM {
			lo++
		}
		for hi < i+1 || hi+1 < len(s) && s[hi]-s[i] < curvatureReachM {
			hi++
		}
		before := (sum[i] - sum[lo]) / (s[i] - s[lo])
		after := (sum[hi] - sum[i]) / (s[hi] - s[i])
		k[i] = (after - before) * math.Pi / 180 / ((s[hi] - s[lo]) / 2)
	}
	return k
}
