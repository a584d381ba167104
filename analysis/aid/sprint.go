package aid

import (
	"context"
	"math"
	"sort"
)

// Sprint is an aid that lasts just up to a line.
type Sprint struct {
	// LineM is the line, UseM where the aid is used: so that it ends at the line, or where
	// it is first to be had.
	LineM, UseM float64
	// GainS is the time gained at the line, in seconds.
	GainS float64
	// SpeedMps is that of the plain ride at the line, FasterMps what the aid adds to it.
	SpeedMps, FasterMps float64
}

// AheadM is by how many metres the user is ahead at the line of one who rides alike
// without the aid.
func (s *Sprint) AheadM() float64 { return s.GainS * s.SpeedMps }

// justS is how close to the line's time an aid is made to end, in seconds.
const justS = 1e-3

// AtLine uses an aid so that it lasts just up to a line, which is an end of the road or of a
// span of the scene's ride; false where the aid can't be had before, or doesn't change the
// motion of its user. Errors are those of Find.
func AtLine(ctx context.Context, s *Scene, a *Aid, lineM float64) (Sprint, bool, error) {
	earliest := a.FirstM()
	if !(earliest < lineM-sameM) || !a.Moves() {
		return Sprint{}, false, nil
	}
	t, trace := newTrial(s, a), &s.Ride.Trace
	line := min(sort.SearchFloat64s(trace.DistanceM, lineM-sameM), len(trace.DistanceM)-1)
	atM := max(between(trace.DistanceM, trace.TimeS, trace.TimeS[line]-a.DurationS), earliest)
	for range 20 {
		spare, speed, err := t.spare(ctx, atM, lineM)
		if err != nil {
			return Sprint{}, false, err
		}
		next := max(atM-float64(spare*speed), earliest)
		if math.Abs(spare) <= justS || next == atM {
			break
		}
		atM = min(next, (atM+lineM)/2)
	}
	return Sprint{
		LineM: lineM, UseM: atM, GainS: t.walk.AheadS(), SpeedMps: trace.SpeedMps[line], FasterMps: t.walk.FasterMps(),
	}, true, nil
}

// spare rides with the aid from a place to a line, however long it lasts, and returns how
// much longer it lasts, in seconds, and the speed where it was used.
func (t *trial) spare(ctx context.Context, atM, lineM float64) (spareS, speedMps float64, err error) {
	if err := t.walk.Seek(ctx, atM); err != nil {
		return 0, 0, err
	}
	startS, speed := t.walk.TimeS(), t.walk.SpeedMps()
	t.walk.Mount(&t.bike)
	err = t.walk.Until(ctx, lineM, math.Inf(1))
	return t.aid.DurationS - (t.walk.TimeS() - startS), speed, err
}

// between returns y at an x between samples, of which both increase; the first or the last
// one beyond them.
func between(ys, xs []float64, x float64) float64 {
	i := sort.SearchFloat64s(xs, x)
	if i == 0 || i == len(xs) {
		return ys[min(i, len(ys)-1)]
	}
	share := (x - xs[i-1]) / (xs[i] - xs[i-1])
	return ys[i-1] + float64(share*(ys[i]-ys[i-1]))
}
