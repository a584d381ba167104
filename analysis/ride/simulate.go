package ride

import (
	"context"
	"math"
	"sort"
)

// Ride is a rider's way over a road.
type Ride struct {
	TimeS float64
	// DistanceM is horizontal, RoadLengthM along the slope.
	DistanceM, RoadLengthM float64
	// MeanSpeedMps is distance over time; MaxSpeedMps is along the road.
	MeanSpeedMps, MaxSpeedMps float64
	// MeanPowerW is over time; WorkJ is the rider's.
	MeanPowerW, WorkJ float64
	// FourthPowerMeanW is the fourth root of the time-mean of the fourth power of the
	// trailing 30 s mean of power, at 1 Hz, zeros included. In the first 30 s the mean is
	// over the time ridden.
	FourthPowerMeanW float64
	Energy           EnergyAccount
	// MeanYawDeg is the time-mean of the angle between the air's flow and the direction
	// of travel, 0…180.
	MeanYawDeg float64
	// Balance is nil for a rider without critical power or W′.
	Balance *Balance
	// Feasible is false where the balance of W′ falls below zero.
	Feasible bool
	// Splits stand in the order of the spans.
	Splits []Split
	Trace  Trace
	Bike   Bike

	// steps are the asked power.
	steps []Step
	turns []turn
	// workJ is the rider's work up to each sample of the trace.
	workJ []float64
}

// Balance sums up the balance of W′.
type Balance struct {
	EndJ, MinJ, MinAtM float64
}

// EnergyAccount says where the work went, each part integrated on its own, in J.
type EnergyAccount struct {
	// WorkJ is the rider's, DrivetrainJ what of it doesn't reach the wheel.
	WorkJ, DrivetrainJ float64
	// AerodynamicJ is negative where the wind pushes more than it hinders.
	AerodynamicJ, RollingJ, BearingsJ, BrakingJ float64
	// PotentialJ and KineticJ are the changes from start to end.
	PotentialJ, KineticJ float64
	// SwappedJ is the kinetic energy that changes of bike under way brought in, those of the
	// bikes that were left taken off.
	SwappedJ float64
	// StartKineticJ is the kinetic energy at the start.
	StartKineticJ float64
}

// ResidualJ is the work less everything it went into.
func (a EnergyAccount) ResidualJ() float64 {
	return a.WorkJ - a.DrivetrainJ - a.AerodynamicJ - a.RollingJ - a.BearingsJ - a.BrakingJ - a.PotentialJ - a.KineticJ + a.SwappedJ
}

// ResidualShare is the residual's size over the energy put in: work, released
// potential and kinetic energy at the start; 0 where nothing was.
func (a EnergyAccount) ResidualShare() float64 {
	in := a.WorkJ + max(-a.PotentialJ, 0) + a.StartKineticJ
	if in <= 0 {
		return 0
	}
	return math.Abs(a.ResidualJ()) / in
}

// Trace is the ride sample by sample, one at each node of the road and wherever the
// power changes or a span starts or ends.
type Trace struct {
	DistanceM, TimeS, SpeedMps []float64
	// PowerW holds from one sample to the next: the mean between them. The last
	// repeats the one before.
	PowerW []float64
	// WBalanceJ is nil for a rider without critical power or W′.
	WBalanceJ []float64
}

// Simulate rides a rider on a set-up over a road at an effort. The asked power is ridden
// whatever the rider's limit; Feasible tells whether W′ lasts. A start speed above what
// the first bend allows is brought down to it. The spans must lie on the road. Errors are
// the context's and *Error: CodeCannotClimb with the place where the speed falls below
// 0.5 m/s more than 100 m of road after the start, or where the bike stands before that
// (power and slope don't bring it to 0.1 m/s); CodeNeedsPower, CodeNeedsCriticalPower,
// CodeTimeOutOfReach, CodeInvalid.
func Simulate(ctx context.Context, road *Road, rider Rider, setup Setup, effort Effort, spans []Span) (*Ride, error) {
	bike, err := NewBike(rider, setup, road.Conditions)
	if err != nil {
		return nil, err
	}
	if err := validateSpans(spans, road.LengthM()); err != nil {
		return nil, err
	}
	steps, err := askedSteps(ctx, road, &bike, rider, effort)
	if err != nil {
		return nil, err
	}
	rec, err := travel(ctx, road, &bike, steps, cutsOf(steps, spans, road.LengthM()))
	if err != nil {
		return nil, err
	}
	ride := rec.ride(rider, spans)
	ride.steps = steps
	return ride, nil
}

// askedSteps returns the power that an effort asks for.
func askedSteps(ctx context.Context, road *Road, bike *Bike, rider Rider, effort Effort) ([]Step, error) {
	if effort.Kind == ByTime {
		return powerFor(ctx, road, bike, effort.TimeS)
	}
	return effort.steps(rider)
}

// cutsOf returns the positions within the road, in order, at which a sample is needed.
func cutsOf(steps []Step, spans []Span, length float64) []float64 {
	cuts := make([]float64, 0, len(steps)+2*len(spans))
	for _, s := range steps {
		cuts = append(cuts, s.EndM)
	}
	for _, s := range spans {
		cuts = append(cuts, s.StartM, s.EndM)
	}
	sort.Float64s(cuts)
	kept := cuts[:0]
	for _, at := range cuts {
		if at > tinyM && at < length-tinyM && (len(kept) == 0 || at > kept[len(kept)-1]+tinyM) {
			kept = append(kept, at)
		}
	}
	return kept
}

// record is a ride as it was ridden, sample by sample.
type record struct {
	road  *Road
	bike  *Bike
	trace Trace
	// workJ is the rider's work up to each sample.
	workJ []float64
	turns []turn
	motion
}

// turn is a change in the way of riding too close to a sample for one of its own.
type turn struct {
	// before is the index of the sample that follows.
	before            int
	atM, timeS, speed float64
	// workJ is the rider's work up to it.
	workJ float64
}

// checkEvery is the number of pieces after which the context is looked at.
const checkEvery = 256

// travel rides a bike over a road with the power of the steps and samples it at the
// pieces' ends and the cuts.
func travel(ctx context.Context, road *Road, bike *Bike, steps []Step, cuts []float64) (*record, error) {
	rec := newRecord(road, bike, samplesOn(road, cuts))
	if err := rec.over(ctx, road.Pieces, steps, cuts); err != nil {
		return nil, err
	}
	rec.close()
	return rec, nil
}

// samplesOn is about how many samples a ride has.
func samplesOn(road *Road, cuts []float64) int {
	nodes := len(road.Pieces) + len(cuts) + 1
	return nodes + nodes/8 + 64 // and some changes of power
}

// over rides on over pieces of the road with the power of the steps, on the same bike.
func (r *record) over(ctx context.Context, pieces []Piece, steps []Step, cuts []float64) error {
	workJ := r.work
	for i := range pieces {
		if i%checkEvery == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		p := &pieces[i]
		r.enter(p, r.bike.On(p))
		from := p.StartM
		for from < p.EndM {
			to, x := p.EndM, p.RoadM
			for len(cuts) > 0 && cuts[0] <= from+tinyM {
				cuts = cuts[1:]
			}
			if len(cuts) > 0 && cuts[0] < p.EndM-tinyM {
				to, x = cuts[0], (cuts[0]-p.StartM)/p.Cos
			}
			for len(steps) > 1 && steps[0].EndM <= (from+to)/2 {
				steps = steps[1:]
			}
			if err := r.cover(to, x, steps[0].PowerW); err != nil {
				return err
			}
			from = to
		}
		r.account.PotentialJ += float64(r.bike.MassKg * gravity * p.rise())
	}
	r.account.DrivetrainJ += float64((r.work - workJ) * (1 - r.bike.Efficiency))
	return nil
}

// leastSampleM is the distance in metres below which a change in the way of riding
// makes no sample of its own.
const leastSampleM = 0.01

// cover rides to a position on the course, x metres of road into the piece, and samples
// the state there and where the way of riding, and with it the power, changes.
func (r *record) cover(to, x, powerW float64) error {
	for r.at < x {
		if err := r.motion.cover(x, powerW*r.bike.Efficiency); err != nil {
			return err
		}
		p := r.piece
		at := p.StartM + float64(r.at*p.Cos)
		switch {
		case r.at >= x:
		case at-r.trace.DistanceM[len(r.trace.DistanceM)-1] > leastSampleM && to-at > leastSampleM:
			r.sample(at)
		default:
			r.turns = append(r.turns, turn{len(r.trace.TimeS), at, r.clock, r.speed(r.kinetic), r.work})
		}
	}
	r.sample(to)
	return nil
}

func newRecord(road *Road, bike *Bike, samples int) *record {
	rec := &record{road: road, bike: bike}
	rec.motion = motion{
		mover:       mover{inertia: bike.InertiaKg, perInertia: 2 / bike.InertiaKg},
		road:        road,
		efficiency:  bike.Efficiency,
		halfInertia: bike.InertiaKg / 2,
	}
	m := &rec.motion
	m.kinetic = min(m.energy(road.Conditions.StartSpeedMps), m.halfInertia*road.Pieces[0].StartLimit)
	m.account.StartKineticJ, m.highest = m.kinetic, m.kinetic
	store := make([]float64, 5*samples)
	column := func(i int) []float64 { return store[i*samples : i*samples : (i+1)*samples] }
	rec.trace = Trace{DistanceM: column(0), TimeS: column(1), SpeedMps: column(2), PowerW: column(3)}
	rec.workJ = column(4)
	rec.sample(0)
	return rec
}

// sample notes the state at a position on the course.
func (r *record) sample(at float64) {
	t := &r.trace
	if n := len(t.TimeS); n > 0 {
		t.PowerW = append(t.PowerW, (r.work-r.workJ[n-1])/(r.clock-t.TimeS[n-1]))
	}
	t.DistanceM = append(t.DistanceM, at)
	t.TimeS = append(t.TimeS, r.clock)
	t.SpeedMps = append(t.SpeedMps, r.speed(r.kinetic))
	r.workJ = append(r.workJ, r.work)
}

// close ends the account.
func (r *record) close() {
	last := r.trace.PowerW[len(r.trace.PowerW)-1]
	r.trace.PowerW = append(r.trace.PowerW, last)
	a := &r.account
	a.WorkJ = r.work
	a.KineticJ = r.kinetic - a.StartKineticJ
}
