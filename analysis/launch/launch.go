// Package launch finds where to start a sprint to a line.
//
// The rider follows a wheel in a line of riders, sheltered, and from one place on gives
// all there is: CP + (P_max − CP)·W/W′ (ride.Rider.PowerLimitW), which decays with
// τ = W′/(P_max − CP). Shelter fades as the rider comes past the wheel ahead. Started early,
// the sprint is long and its end slower than the wheel; started late, power is left over.
// In between lies the launch with which the rider is at the line soonest. Motion is package
// ride's, without bends, brakes and freewheeling.
package launch

import (
	"parcours.example/analysis/ride"
	"parcours.example/analysis/shelter"
)

// pitchM is from one rider to the next in a line at close riding, in metres: a bicycle of
// 1.7 m and 0.15 m between the wheels (common practice).
const pitchM = bicycleM + closeGapM

const (
	bicycleM  = 1.7
	closeGapM = 0.15
)

// leastLine is the least number of riders in a line: somebody follows.
const leastLine = 4

// PlaceShelter returns the drag over the drag alone at a place in the line, counted from 1
// at its head, with at least three others in it and one behind (shelter.Line).
func PlaceShelter(place int) float64 {
	return shelter.Line(place-1, max(place+1, leastLine))
}

// Approach is how a line is approached: behind a wheel in a line of riders. Its head passes
// the start of the approach at SpeedMps and gives the constant power that holds this speed
// over the approach on the whole, so that it is slower where it is steeper.
type Approach struct {
	// Pieces lead from the start of the approach to the sprint line, without a gap.
	Pieces []ride.Piece
	// SpeedMps is in m/s along the road, above 0.
	SpeedMps float64
	// Place is the rider's in the line, from 1 at its head.
	Place int
	// Shelter is the drag there over the drag alone, 0…1: PlaceShelter, or what is known
	// better.
	Shelter float64
}

// LengthM returns the approach's horizontal length in metres.
func (a Approach) LengthM() float64 { return a.Pieces[len(a.Pieces)-1].EndM - a.Pieces[0].StartM }

// MeanGradient returns the approach's rise over its run.
func (a Approach) MeanGradient() float64 {
	rise := 0.0
	for _, p := range a.Pieces {
		rise += float64(p.Gradient * (p.EndM - p.StartM))
	}
	return rise / a.LengthM()
}

// Sprinter is a rider on a set-up at the start of an approach.
type Sprinter struct {
	// Rider has critical power, W′ and a maximal power of at least the critical power.
	Rider ride.Rider
	// Bike is the rider's on the set-up, unsheltered.
	Bike ride.Bike
	// BalanceJ is the balance of W′ at the start of the approach, 0…W′.
	BalanceJ float64
}

// Best is the launch with which a rider is at the line soonest. Distances are horizontal, in
// metres before the line.
type Best struct {
	// LaunchM is where it is launched; 0 where it is best to stay on the wheel. LaunchS is
	// how long before crossing the line that is, in seconds.
	LaunchM, LaunchS float64
	// TimeS is the time at the line since the head of the line of riders passed the start
	// of the approach.
	TimeS float64
	// AheadS is how far ahead of the head, riding on at its power, the rider crosses the
	// line, in seconds; negative behind it.
	AheadS float64
	// LaunchSpeedMps, PeakSpeedMps and LineSpeedMps are along the road, at the launch, at
	// most and at the line; PeakM is where the peak is.
	LaunchSpeedMps, PeakSpeedMps, LineSpeedMps, PeakM float64
	// LaunchPowerW, LinePowerW and MeanPowerW are the rider's at the launch, at the line and
	// from one to the other.
	LaunchPowerW, LinePowerW, MeanPowerW float64
	// LaunchBalanceJ and LineBalanceJ are the balances of W′ there.
	LaunchBalanceJ, LineBalanceJ float64
}

// Sprint is the best launch from an approach, and what surrounds it.
type Sprint struct {
	Best
	// HeadS is when the head of the line of riders crosses the line, in seconds.
	HeadS float64
	// EarliestM and LatestM bound the launches around the best that cost at most FlatS.
	EarliestM, LatestM float64
	// FollowPowerW is the rider's mean power behind the wheel, NaN where the sprint starts
	// with the approach.
	FollowPowerW float64
	// LostM is where the wheel becomes too fast for all that the rider has, so that there is
	// no later launch; NaN where it doesn't.
	LostM float64
	// AtOnce is true where the sprint is best launched at the start of the approach: from
	// farther away it might be better still.
	AtOnce bool
	// Offsets are launches from elsewhere, the earliest first.
	Offsets []Offset
}

// FlatS is the cost in seconds up to which launches count as as good as the best.
const FlatS = 0.05

// Offset is what it costs to launch elsewhere.
type Offset struct {
	// EarlierM is how much farther from the line, negative for nearer.
	EarlierM float64
	// CostS is in seconds; CostM is that at the best launch's speed at the line, in metres.
	CostS, CostM float64
}
