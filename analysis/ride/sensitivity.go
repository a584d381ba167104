package ride

import (
	"math"
	"slices"
)

// Sensitivity is how a time changes with each quantity, to first order, in seconds per
// unit: positive where more of it takes longer. The asked power, the drag area and the
// rest stay as they are when one changes: a heavier rider gets no larger drag area and
// no power for it.
type Sensitivity struct {
	// PerKg is that to the mass that is moved, whoever's it is.
	PerKg float64
	// PerW is that to power added everywhere, PerPowerPct that to one per cent of the
	// asked power. Where the rider freewheels because of the speed, or gives no more than
	// what holds a speed, none is added.
	PerW, PerPowerPct float64
	// PerCdAM2 is that to the drag area alone: the wheels' and shelter stay.
	PerCdAM2 float64
	PerCrr   float64
	// PerC is that to the temperature; 0 where the density of the air is given.
	PerC float64
	// PerWindMps is that to the wind as the conditions give it: at 10 m along its
	// direction where there is such a wind, else as a headwind at rider height; 0 indoors.
	PerWindMps float64
	// PerEfficiency is that to the drivetrain's efficiency.
	PerEfficiency float64
}

// Sensitivities are a ride's and its splits', which stand in the order of Ride.Splits.
type Sensitivities struct {
	Whole  Sensitivity
	Splits []Sensitivity
}

// Sensitivities linearises the motion along a ride over its road, which must be the one
// it was ridden on, with its trace: one pass gives the derivatives of every time by
// every quantity. On a bend's limit and at the coasting speed the speed is given; where
// the ride comes to them and leaves them moves.
func (r *Ride) Sensitivities(road *Road) Sensitivities {
	stops := r.stops()
	clocks := r.linearised(road, stops)
	clock := func(sample int) *gradient {
		i, _ := slices.BinarySearch(stops, sample)
		return &clocks[i]
	}
	last := len(r.Trace.TimeS) - 1
	s := Sensitivities{Whole: clock(last).since(&gradient{}, &r.Bike), Splits: make([]Sensitivity, len(r.Splits))}
	for i, from := range starts(r.Splits) {
		first, end := r.Trace.sampleAt(from), r.Trace.sampleAt(r.Splits[i].EndM)
		s.Splits[i] = clock(end).since(clock(first), &r.Bike)
	}
	return s
}

// stops returns the samples at which the splits start and end, and the last one, in
// order.
func (r *Ride) stops() []int {
	stops := []int{len(r.Trace.TimeS) - 1}
	for i, from := range starts(r.Splits) {
		stops = append(stops, r.Trace.sampleAt(from), r.Trace.sampleAt(r.Splits[i].EndM))
	}
	slices.Sort(stops)
	return slices.Compact(stops)
}

// linearised returns the derivatives of the clock at some samples of the trace.
func (r *Ride) linearised(road *Road, stops []int) []gradient {
	t := newTangent(road, &r.Bike)
	piece, turns := -1, r.turns
	clocks := make([]gradient, 0, len(stops))
	for i := range r.Trace.TimeS {
		end := r.moment(i)
		if i > 0 {
			for piece < 0 || (piece < len(road.Pieces)-1 && road.Pieces[piece].EndM < end.atM-tinyM) {
				piece++
				t.enter(&road.Pieces[piece])
			}
			start := r.moment(i - 1)
			for ; len(turns) > 0 && turns[0].before == i; turns = turns[1:] {
				t.cover(interval{start, turns[0]})
				start = turns[0]
			}
			t.cover(interval{start, end})
		}
		if len(clocks) < len(stops) && stops[len(clocks)] == i {
			clocks = append(clocks, t.clock)
		}
	}
	return clocks
}

// moment is the state at a sample of the trace.
func (r *Ride) moment(i int) turn {
	t := &r.Trace
	return turn{i, t.DistanceM[i], t.TimeS[i], t.SpeedMps[i], r.workJ[i]}
}

// The quantities that a gradient goes by.
const (
	byMass   = iota // kg
	byPower         // W
	byShare         // share of the asked power
	byCdA           // m²
	byCrr           // 1
	byWarmth        // K
	byWind          // m/s
	quantities
)

// gradient holds derivatives by the quantities.
type gradient [quantities]float64

// since returns the sensitivity of the time between two clocks. The efficiency acts as
// the power does: their product is what drives.
func (g *gradient) since(before *gradient, b *Bike) Sensitivity {
	d := *g
	for k := range d {
		d[k] -= before[k]
	}
	return Sensitivity{
		PerKg: d[byMass], PerW: d[byPower], PerPowerPct: d[byShare] / 100, PerCdAM2: d[byCdA],
		PerCrr: d[byCrr], PerC: d[byWarmth], PerWindMps: d[byWind], PerEfficiency: d[byShare] / b.Efficiency,
	}
}

// windward returns how the headwind on a piece grows with the wind of the conditions.
func (r *Road) windward(p *Piece) float64 {
	switch c := &r.Conditions; {
	case c.Indoor:
		return 0
	case c.WindMps > 0:
		return (p.HeadwindMps - c.HeadwindMps) / c.WindMps
	}
	return 1
}

// onLine is the relative margin within which a sample is on a line that the ride keeps
// to.
const onLine = 1e-9

func same(a, b float64) bool { return math.Abs(a-b) <= onLine*math.Abs(b) }
