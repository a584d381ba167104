package ride

import (
	"context"
	"math"
	"slices"
)

// Stint is a stretch of a ride on one set-up, from the end of the stint before on.
type Stint struct {
	// EndM is the position where it ends; the last one ends with the road.
	EndM  float64
	Setup Setup
	// Shelter takes the place of the conditions': the drag in the bunch over the drag alone,
	// 0…1. NaN keeps theirs.
	Shelter float64
	// Stops has the rider brake to a stand where the stint begins, stand for StandingS
	// seconds and start from rest. Without it the rider goes on at the same speed, and on the
	// same bike the ride is that without the change, bit by bit. The first stint begins at
	// the start, whatever it says.
	Stops     bool
	StandingS float64
}

// SimulateStints is Simulate for a ride whose bike changes on the way. Before a stop the
// rider brakes at the conditions' deceleration, DefaultBrakingMps2 where they have none,
// and at once where it is unlimited; W′ recovers while the rider stands. A span that ends
// where a stint begins ends before the stop, one that starts there starts after it. The
// ride's Bike is the first stint's, and Sensitivities and Band don't hold for it. An effort
// of ByTime is refused.
func SimulateStints(ctx context.Context, road *Road, rider Rider, stints []Stint, effort Effort, spans []Span) (*Ride, error) {
	if err := validateStints(stints, road.LengthM()); err != nil {
		return nil, err
	}
	bikes, err := bikesOf(rider, stints, road.Conditions)
	if err != nil {
		return nil, err
	}
	if err := validateSpans(spans, road.LengthM()); err != nil {
		return nil, err
	}
	steps, err := effort.steps(rider)
	if err != nil {
		return nil, err
	}
	stints, bikes = condensed(stints, bikes)
	road = road.stopping(stints)
	cuts := cutsOf(steps, spans, road.LengthM())
	rec := newRecord(road, &bikes[0], samplesOn(road, cuts))
	pieces := road.Pieces
	for i, s := range stints {
		if i > 0 {
			rec.swap(&bikes[i], s)
		}
		n := len(pieces)
		if i < len(stints)-1 {
			n = piecesBefore(pieces, s.EndM)
		}
		if err := rec.over(ctx, pieces[:n], steps, cuts); err != nil {
			return nil, err
		}
		pieces = pieces[n:]
	}
	rec.close()
	ride := rec.ride(rider, spans)
	ride.Bike, ride.steps = bikes[0], steps
	return ride, nil
}

func validateStints(stints []Stint, length float64) error {
	if len(stints) == 0 {
		return invalid("a ride needs a stint")
	}
	last := 0.0
	for i, s := range stints {
		if i < len(stints)-1 {
			if !(s.EndM > last+tinyM && s.EndM < length-tinyM) {
				return invalid("stint %d ends at %v m; it must end after the one before and within the road of %v m", i+1, s.EndM, length)
			}
			last = s.EndM
		}
		if !(s.StandingS >= 0 && s.StandingS <= longestStandingS) || (s.StandingS > 0 && !s.Stops) {
			return invalid("stint %d stands for %v s; it takes 0…%v s, and stops for more than none", i+1, s.StandingS, longestStandingS)
		}
	}
	return nil
}

// longestStandingS bounds the standing at a change of bikes.
const longestStandingS = 86_400.0

func bikesOf(rider Rider, stints []Stint, c Conditions) ([]Bike, error) {
	bikes := make([]Bike, len(stints))
	for i, s := range stints {
		sheltered := c
		if !math.IsNaN(s.Shelter) {
			sheltered.Shelter = s.Shelter
		}
		if err := sheltered.validate(); err != nil {
			return nil, err
		}
		var err error
		if bikes[i], err = NewBike(rider, s.Setup, sheltered); err != nil {
			return nil, err
		}
	}
	return bikes, nil
}

// condensed returns the stints without those that go on as the one before does, so that
// what changes nothing changes no bit.
func condensed(stints []Stint, bikes []Bike) ([]Stint, []Bike) {
	kept, on := slices.Clone(stints[:1]), slices.Clone(bikes[:1])
	for i := 1; i < len(stints); i++ {
		last := len(kept) - 1
		if !stints[i].Stops && bikes[i].numbers() == on[last].numbers() {
			kept[last].EndM = stints[i].EndM
			continue
		}
		kept, on = append(kept, stints[i]), append(on, bikes[i])
	}
	return kept, on
}

// numbers are all that moves a bike.
func (b *Bike) numbers() [7]float64 {
	return [...]float64{b.MassKg, b.InertiaKg, b.DragAreaM2, b.Crr, b.Efficiency, b.BearingN, b.BearingNsPerM}
}

// piecesBefore returns how many pieces lie before a position at which one ends.
func piecesBefore(pieces []Piece, atM float64) int {
	n := 0
	for n < len(pieces) && pieces[n].EndM <= atM+tinyM {
		n++
	}
	return n
}

// swap goes over to another bike, at the same speed or from a stand.
func (r *record) swap(bike *Bike, s Stint) {
	m := &r.motion
	if s.Stops {
		m.account.BrakingJ += m.kinetic
		m.kinetic, m.launchedAt = 0, m.ridden
	}
	heavier := bike.InertiaKg / m.inertia
	m.account.SwappedJ += float64(m.kinetic * (heavier - 1))
	m.kinetic *= heavier
	m.highest *= heavier
	m.mover = mover{inertia: bike.InertiaKg, perInertia: 2 / bike.InertiaKg}
	m.halfInertia, m.efficiency, r.bike = bike.InertiaKg/2, bike.Efficiency, bike
	if s.StandingS > 0 {
		m.clock += s.StandingS
		r.sample(r.trace.DistanceM[len(r.trace.DistanceM)-1])
	}
}

// stopping returns the road with a node wherever a stint begins, and with the limits that
// bring the rider to a stand there where it stops.
func (r *Road) stopping(stints []Stint) *Road {
	other := *r
	other.Pieces = make([]Piece, 0, len(r.Pieces)+2*len(stints))
	rest := r.Pieces
	for i, s := range stints[:len(stints)-1] {
		n := piecesBefore(rest, s.EndM)
		other.Pieces = append(other.Pieces, rest[:n]...)
		rest = rest[n:]
		if from, length := rest[0].StartM, rest[0].EndM-rest[0].StartM; s.EndM > from+tinyM {
			share := (s.EndM - from) / length
			other.Pieces = append(other.Pieces, rest[0].cut(0, share))
			rest = append([]Piece{rest[0].cut(share, 1)}, rest[1:]...)
		}
		if stints[i+1].Stops {
			other.brake()
		}
	}
	other.Pieces = append(other.Pieces, rest...)
	return &other
}

// fastestStopSquare is the square of the speed in m²/s² from which a stop is braked for,
// 360 km/h: beyond what a bike does, and bounded where nothing else limits the speed.
const fastestStopSquare = 1e4

// brake lowers the limits before the end of the road so far to where the rider, braking
// evenly, comes to a stand there. Backwards the limits rise no faster than the line that
// brakes allow, so that the line stays above them from where they first meet.
func (r *Road) brake() {
	rate := 2 * r.Conditions.BrakingMps2
	if math.IsNaN(rate) {
		rate = 2 * DefaultBrakingMps2
	}
	if math.IsInf(rate, 1) {
		return
	}
	after := 0.0
	for i := len(r.Pieces) - 1; i >= 0 && after < fastestStopSquare; i-- {
		p := &r.Pieces[i]
		before := after + float64(rate*p.RoadM)
		switch {
		case after >= p.EndLimit:
			return
		case before > p.StartLimit:
			over := before - p.StartLimit
			share := over / (over + p.EndLimit - after)
			open, braked := p.cut(0, share), p.cut(share, 1)
			braked.EndLimit = after
			r.Pieces = append(append(r.Pieces[:i:i], open, braked), r.Pieces[i+1:]...)
			return
		}
		p.StartLimit, p.EndLimit = before, after
		after = before
	}
}
