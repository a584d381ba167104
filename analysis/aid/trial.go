package aid

import (
	"context"
	"math"

	"parcours.example/analysis/ride"
)

// sameM is the distance in metres within which two places are one.
const sameM = 1e-5

// trial tries uses of one aid.
type trial struct {
	scene *Scene
	aid   *Aid
	walk  *ride.Walk
	bike  ride.Bike
	// endS is the clock's time at which the aid ends, endsM where.
	endS, endsM float64
}

func newTrial(s *Scene, a *Aid) *trial {
	return &trial{scene: s, aid: a, walk: s.Ride.Walk(s.Road), bike: a.on(s.Ride.Bike)}
}

// use tries the aid at a place.
func (t *trial) use(ctx context.Context, atM float64) (Use, error) {
	if err := t.walk.Seek(ctx, atM); err != nil {
		return Use{}, err
	}
	u := Use{AtM: atM, ClockS: t.walk.TimeS(), SpeedMps: t.walk.SpeedMps()}
	gainS, err := t.gained(ctx)
	if err != nil {
		return Use{}, err
	}
	u.EndsM = min(t.endsM, t.scene.LineM)
	if t.aid.Moves() {
		u.GainS = gainS
	}
	if t.aid.Denies() {
		u.Follower, err = t.follower(ctx, atM)
	}
	return u, err
}

// gained uses the aid where the walk stands and returns the seconds that are gained.
func (t *trial) gained(ctx context.Context) (float64, error) {
	t.start()
	beforeS := 0.0
	if from := t.scene.FromM; t.walk.AtM() < from-sameM {
		again, err := t.to(ctx, from)
		if err != nil || again {
			return 0, err // what is gained before the stretch doesn't count
		}
		beforeS = t.walk.AheadS()
	}
	if _, err := t.to(ctx, t.scene.LineM); err != nil {
		return 0, err
	}
	return t.walk.AheadS() - beforeS, nil
}

// start uses the aid where the walk stands.
func (t *trial) start() {
	t.endS, t.endsM = t.walk.TimeS()+t.aid.DurationS, math.Inf(1)
	t.walk.Mount(&t.bike)
}

// to rides on to a place, with the aid while it lasts, and reports whether the ride is the
// plain one again.
func (t *trial) to(ctx context.Context, atM float64) (bool, error) {
	if math.IsInf(t.endsM, 1) {
		if err := t.walk.Until(ctx, atM, t.endS); err != nil || t.walk.AtM() >= atM-sameM {
			return false, err
		}
		t.endsM = t.walk.AtM()
	}
	return t.walk.Rejoin(ctx, atM)
}
