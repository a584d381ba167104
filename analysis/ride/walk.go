package ride

import (
	"context"
	"math"
	"sort"
)

// Walk goes over a ride again from any place of it, on bikes that may differ from the
// ride's own for a while: at the power that was asked there, by the one motion model. It
// isn't safe for concurrent use.
type Walk struct {
	motion
	ride *Ride
	bike *Bike
	// index is that of the piece under the wheels, sample that of the first sample of the
	// ride's trace that isn't behind.
	index, sample int
	// askedW replaces the power asked in the ride; NaN for none.
	askedW float64
}

// Walk returns a walk that stands at the start of a ride over its road, which must be the
// one it was ridden on, with its trace.
func (r *Ride) Walk(road *Road) *Walk {
	w := &Walk{ride: r, motion: motion{road: road}, askedW: math.NaN()}
	w.place(0)
	return w
}

// Seek puts the walk back on the ride, on the ride's own bike, at a position in metres;
// one beyond an end is that end. Errors are those of Until.
func (w *Walk) Seek(ctx context.Context, atM float64) error {
	pieces := w.road.Pieces
	w.place(min(max(sort.Search(len(pieces), func(i int) bool { return pieces[i].StartM > atM })-1, 0), len(pieces)-1))
	return w.Until(ctx, atM, math.Inf(1))
}

// place puts the walk on the ride at the start of a piece.
func (w *Walk) place(index int) {
	p := &w.road.Pieces[index]
	w.index, w.sample, w.bike, w.askedW = index, w.ride.Trace.sampleAt(p.StartM), &w.ride.Bike, math.NaN()
	w.clock = w.ride.Trace.TimeS[w.sample]
	w.ridden = p.StartM // along the slope it is no shorter
	w.piece, w.at = p, 0
	w.carry(w.ride.Trace.SpeedMps[w.sample])
}

// Mount changes the bike. The speed stays, whatever the masses.
func (w *Walk) Mount(b *Bike) {
	v := w.SpeedMps()
	w.bike = b
	w.carry(v)
}

// Ask has the rider asked for a power in W from here on, in place of the ride's, until
// the next Seek.
func (w *Walk) Ask(powerW float64) { w.askedW = powerW }

// carry sets the bike going on the piece at a speed.
func (w *Walk) carry(v float64) {
	b := w.bike
	w.mover = mover{resistance: b.On(w.piece), inertia: b.InertiaKg, perInertia: 2 / b.InertiaKg}
	w.efficiency, w.halfInertia = b.Efficiency, b.InertiaKg/2
	w.kinetic = w.energy(v)
	w.coast = math.Inf(1)
	if w.road.Coasts(w.piece) {
		w.coast = w.energy(w.road.Conditions.CoastAboveMps)
	}
}

// AtM is the position on the course in metres.
func (w *Walk) AtM() float64 { return w.piece.StartM + float64(w.at*w.piece.Cos) }

// TimeS is the clock of the ride, in seconds, as the walk has it.
func (w *Walk) TimeS() float64 { return w.clock }

// SpeedMps is the speed along the road in m/s.
func (w *Walk) SpeedMps() float64 { return w.speed(w.kinetic) }

// WorkJ is the rider's work in J since the last Seek.
func (w *Walk) WorkJ() float64 { return w.work }

// AheadS is how many seconds earlier than the ride the walk is here, which must be a
// place with a sample of the ride's trace: an end of a piece or of a span.
func (w *Walk) AheadS() float64 { return w.ride.Trace.TimeS[w.sampleHere()] - w.clock }

// FasterMps is how much faster than the ride the walk is at such a place, in m/s.
func (w *Walk) FasterMps() float64 { return w.SpeedMps() - w.ride.Trace.SpeedMps[w.sampleHere()] }

func (w *Walk) sampleHere() int { return w.ride.Trace.sampleAt(w.AtM()) }

// Until rides on until a position in metres or a time of the clock in seconds, whichever
// comes first; the end of the road is the last position. Errors are the context's and
// *Error with CodeCannotClimb.
func (w *Walk) Until(ctx context.Context, atM, timeS float64) error {
	atM = min(atM, w.road.LengthM())
	for n := 0; w.AtM() < atM-tinyM && w.clock < timeS-punctualS; n++ {
		if n%checkEvery == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		if err := w.stretch(atM, timeS); err != nil {
			return err
		}
	}
	return nil
}

// rejoinedShare is the difference of kinetic energies, as a share, from which on two
// rides are one: what it still adds to the difference of their times is below 10⁻⁵ s.
const rejoinedShare = 1e-6

// Rejoin rides on, on the ride's own bike, until a position in metres or until the speed
// is that of the ride again, and reports whether it is: from there on AheadS doesn't
// change any more, by more than 10⁻⁵ s. Errors are those of Until.
func (w *Walk) Rejoin(ctx context.Context, atM float64) (bool, error) {
	w.Mount(&w.ride.Bike)
	atM = min(atM, w.road.LengthM())
	for n := 0; w.AtM() < atM-tinyM; n++ {
		if n%checkEvery == 0 && ctx.Err() != nil {
			return false, ctx.Err()
		}
		if err := w.stretch(atM, math.Inf(1)); err != nil {
			return false, err
		}
		if w.rejoined() {
			return true, nil
		}
	}
	return false, nil
}

// rejoined reports whether the speed is the ride's, at the start of a piece.
func (w *Walk) rejoined() bool {
	if w.at != 0 {
		return false
	}
	t := &w.ride.Trace
	for w.sample < len(t.DistanceM)-1 && t.DistanceM[w.sample] < w.piece.StartM-tinyM {
		w.sample++
	}
	return math.Abs(w.kinetic-w.energy(t.SpeedMps[w.sample])) <= rejoinedShare*w.kinetic
}

// stretch rides to the next end of a piece or a step, or to where Until ends.
func (w *Walk) stretch(atM, timeS float64) error {
	p, here := w.piece, w.AtM()
	powerW, end := w.powerAt(here)
	x := p.RoadM
	if stop := min(atM, end); stop < p.EndM-tinyM {
		x = (stop - p.StartM) / p.Cos
	}
	if err := w.reach(x, powerW*w.bike.Efficiency, timeS); err != nil {
		return err
	}
	if w.at >= p.RoadM && w.index < len(w.road.Pieces)-1 {
		w.index++
		next := &w.road.Pieces[w.index]
		w.enter(next, w.bike.On(next))
	}
	return nil
}

// powerAt returns the power asked from a position on, and up to where.
func (w *Walk) powerAt(atM float64) (powerW, endM float64) {
	if !math.IsNaN(w.askedW) {
		return w.askedW, math.Inf(1)
	}
	steps := w.ride.steps
	i := sort.Search(len(steps)-1, func(i int) bool { return steps[i].EndM > atM+tinyM })
	if i == len(steps)-1 {
		return steps[i].PowerW, math.Inf(1)
	}
	return steps[i].PowerW, steps[i].EndM
}

// punctualS is how close to its time a walk stops, in seconds.
const punctualS = 1e-9

// reach rides to x metres of road into the piece or until a time, whichever is first.
func (w *Walk) reach(x, wheelW, timeS float64) error {
	from := w.motion
	if err := w.ridePiece(x, wheelW); err != nil || w.clock <= timeS+punctualS {
		return err
	}
	// The place where the clock shows timeS, by false position between one where it shows
	// less and one where it shows more; by bisection each third time, for a bike that hardly
	// moves at one of them.
	low, lowS, high, highS := from.at, from.clock, w.at, w.clock
	for i := range 150 {
		share := (timeS - lowS) / (highS - lowS)
		if i%3 == 2 {
			share = 0.5
		}
		to := low + float64((high-low)*share)
		if !(to > low && to < high) {
			break
		}
		w.motion = from
		if err := w.ridePiece(to, wheelW); err != nil {
			return err
		}
		switch {
		case math.Abs(w.clock-timeS) <= punctualS:
			return nil
		case w.clock < timeS:
			low, lowS = to, w.clock
		default:
			high, highS = to, w.clock
		}
	}
	w.motion = from
	return w.ridePiece(high, wheelW)
}

// ridePiece rides to x metres of road into the piece.
func (w *Walk) ridePiece(x, wheelW float64) error {
	for w.at < x {
		if err := w.cover(x, wheelW); err != nil {
			return err
		}
	}
	return nil
}
