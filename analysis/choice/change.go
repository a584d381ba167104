package choice

import (
	"context"
	"errors"
	"math"
	"sort"

	"parcours.example/analysis/ride"
)

// ChangeCaution goes with changes of bike.
const ChangeCaution = "Change bicycles only where the event's rules allow it, off the riders' line, and look back before braking and before going on: those behind don't expect it."

// DefaultStandingS is how long a rider stands to change bikes: common practice, a bicycle
// held ready and a change that was rehearsed.
const DefaultStandingS = 15.0

// Change is a change of bike on the way.
type Change struct {
	// From and To are set-ups.
	From, To int
	// Spots are the places that are tried, in order, within the road.
	Spots []Spot
	// Stops has the rider brake to a stand, stand for StandingS seconds, and start from rest.
	Stops     bool
	StandingS float64
	// AloneM is for how many metres after the change the rider rides at AloneShelter in the
	// place of the conditions' shelter, until back in the bunch; 0 for none.
	AloneM, AloneShelter float64
}

// Spot is a place to change at.
type Spot struct {
	// Name is how a sentence calls it.
	Name string
	// AtM is its position on the road.
	AtM float64
}

// Changed is what a change comes to.
type Changed struct {
	// Trials stand in the order of the places.
	Trials []Trial
	// Best is the trial of the shortest time, −1 where the rider can't ride on any.
	Best int
}

// Trial is a ride with the change at one place. Gains are in seconds saved against staying
// on the first bike; below zero they are lost.
type Trial struct {
	AtM, TimeS float64
	// Gain is at the finish; its doubt is that of the two bikes' times from the place on.
	Gain Gap
	// LostS is what the change itself costs: that of a change to the same bike. It is the
	// sum of StandingS, GoingS for braking and getting up to speed, and AloneS for the shelter
	// that is lost. WonS is what the other bike is faster from there on: Gain is WonS less
	// LostS.
	LostS, StandingS, GoingS, AloneS, WonS float64
	// BreakEvenS is the standing time at which the change takes exactly as long as none; below
	// zero it wouldn't pay with none at all.
	BreakEvenS float64
	// OpenedS is the widest gap to a companion who rides on without a change, OpenedM how far
	// ahead the companion is when the rider passes there, or at the finish how far the rider
	// still has to go, and OpenedAtM where; LevelAtM is where the rider is level again, NaN for
	// nowhere.
	OpenedS, OpenedM, OpenedAtM, LevelAtM float64
	// OverBestS is what the ride saves against the fastest set-up from start to finish.
	OverBestS float64
	// AmbitionsS are the ambitions' measures.
	AmbitionsS []float64
	// Balance is nil for a rider without critical power or W′.
	Balance  *ride.Balance
	Feasible bool
	// Halt is why there is no such ride; nothing else is then known.
	Halt *ride.Error
}

// change tries the i-th change at each of its places.
func (t *table) change(ctx context.Context, i int) (Changed, error) {
	c, changed := t.Changes[i], Changed{Best: -1}
	tail := t.first[len(t.Ambitions)]
	for k := range i {
		tail += len(t.Changes[k].Spots)
	}
	if t.Rides[c.From] == nil {
		return changed, nil
	}
	for k, spot := range c.Spots {
		trial, err := t.try(ctx, c, spot.AtM)
		if err != nil {
			return changed, err
		}
		if trial.Halt == nil {
			trial.Gain = t.gainOf(c, trial, tail+k)
			if changed.Best < 0 || trial.TimeS < changed.Trials[changed.Best].TimeS {
				changed.Best = k
			}
		}
		changed.Trials = append(changed.Trials, trial)
	}
	return changed, nil
}

// gainOf is a trial's gain at the finish.
func (t *table) gainOf(c Change, trial Trial, tail int) Gap {
	gain := Gap{S: trial.WonS - trial.LostS}
	if t.Rides[c.To] != nil {
		gain = t.between(t.spans[c.To][tail], t.spans[c.From][tail], c.To, c.From)
		off := gain.S
		gain.S = trial.WonS - trial.LostS
		gain.LowS, gain.HighS = gain.LowS+gain.S-off, gain.HighS+gain.S-off
	}
	gain.Tied = gain.LowS <= 0 && gain.HighS >= 0 || math.Abs(gain.S) <= leastGapS
	return gain
}

// try rides with the change at one place.
func (t *table) try(ctx context.Context, c Change, at float64) (Trial, error) {
	trial := Trial{AtM: at}
	stay := t.Rides[c.From]
	ridden, err := t.ridden(ctx, c, at, c.To)
	if err != nil {
		return trial, trial.halted(err)
	}
	trial.TimeS, trial.Balance, trial.Feasible = ridden.TimeS, ridden.Balance, ridden.Feasible
	trial.AmbitionsS = t.means(ridden.Splits)
	trial.OverBestS = math.Inf(1)
	for _, r := range t.Rides {
		if r != nil {
			trial.OverBestS = min(trial.OverBestS, r.TimeS-ridden.TimeS)
		}
	}
	same, err := t.ridden(ctx, c, at, c.From)
	if err != nil {
		return trial, trial.halted(err)
	}
	trial.LostS, trial.WonS = same.TimeS-stay.TimeS, same.TimeS-ridden.TimeS
	if c.AloneM > 0 {
		sheltered := c
		sheltered.AloneM = 0
		kept, err := t.ridden(ctx, sheltered, at, c.From)
		if err != nil {
			return trial, trial.halted(err)
		}
		trial.AloneS = same.TimeS - kept.TimeS
	}
	trial.StandingS = c.StandingS
	trial.GoingS = trial.LostS - trial.StandingS - trial.AloneS
	trial.BreakEvenS = c.StandingS + trial.WonS - trial.LostS
	trial.open(&stay.Trace, &ridden.Trace)
	return trial, nil
}

// halted notes that the rider comes to a halt, and returns every other error.
func (t *Trial) halted(err error) error {
	var halt *ride.Error
	if !errors.As(err, &halt) || halt.Code != ride.CodeCannotClimb {
		return err
	}
	t.Halt = halt
	return nil
}

// ridden rides with the change at a place to a set-up.
func (t *table) ridden(ctx context.Context, c Change, at float64, to int) (*ride.Ride, error) {
	changed := ride.Stint{Setup: t.Setups[to], Shelter: unknown}
	first := ride.Stint{EndM: at, Setup: t.Setups[c.From], Shelter: unknown}
	next := changed
	next.Stops, next.StandingS = c.Stops, c.StandingS
	stints := []ride.Stint{first, next}
	if c.AloneM > 0 {
		stints[1].Shelter, stints[1].EndM = c.AloneShelter, at+c.AloneM
		if stints[1].EndM < t.Road.LengthM()-leastStintM {
			stints = append(stints, changed)
		}
	}
	return ride.SimulateStints(ctx, t.Road, t.Rider, stints, t.Rides[c.From].Asked(), t.allSpans())
}

// allSpans are those of the case's rides, so that without a change nothing differs.
func (t *table) allSpans() []ride.Span { return Spans(t.Ambitions, t.Changes, t.Road.LengthM()) }

// leastStintM is the shortest last stint that is ridden on its own.
const leastStintM = 1.0

// open finds the widest gap that a ride opens to another, and where it is closed again.
func (t *Trial) open(stay, ridden *ride.Trace) {
	t.OpenedAtM, t.LevelAtM = t.AtM, unknown
	before := 0.0
	for i, at := range ridden.DistanceM {
		if at < t.AtM {
			continue
		}
		behind := ridden.TimeS[i] - interpolated(stay.DistanceM, stay.TimeS, at)
		if behind > t.OpenedS {
			t.OpenedS, t.OpenedAtM, t.LevelAtM = behind, at, unknown
			t.OpenedM = ahead(stay, ridden, i)
		}
		if behind <= 0 && before > 0 && math.IsNaN(t.LevelAtM) {
			back := ridden.DistanceM[i-1]
			t.LevelAtM = back + float64((at-back)*before/(before-behind))
		}
		before = behind
	}
}

// ahead is how far in m a companion is ahead when a ride is at its i-th sample; of one who
// has finished by then, how far the ride had still to go when the companion was there.
func ahead(stay, ridden *ride.Trace, i int) float64 {
	if last := len(stay.TimeS) - 1; ridden.TimeS[i] <= stay.TimeS[last] {
		return interpolated(stay.TimeS, stay.DistanceM, ridden.TimeS[i]) - ridden.DistanceM[i]
	}
	passed := interpolated(stay.DistanceM, stay.TimeS, ridden.DistanceM[i])
	return ridden.DistanceM[i] - interpolated(ridden.TimeS, ridden.DistanceM, passed)
}

// interpolated is y at x, which both grow.
func interpolated(xs, ys []float64, x float64) float64 {
	i := sort.SearchFloat64s(xs, x)
	switch {
	case i == 0:
		return ys[0]
	case i == len(xs):
		return ys[len(ys)-1]
	}
	return ys[i-1] + float64((ys[i]-ys[i-1])*(x-xs[i-1])/(xs[i]-xs[i-1]))
}
