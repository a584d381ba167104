package launch

import (
	"context"
	"math"

	"parcours.example/analysis/ride"
)

// Find returns the launch with which a rider is at the line soonest. Errors are the
// context's and *ride.Error with CodeCannotClimb, its AtM from the start of the approach.
func Find(ctx context.Context, a Approach, s Sprinter) (*Sprint, error) {
	p, err := a.pace(&s.Bike)
	if err != nil {
		return nil, err
	}
	return find(ctx, follow(p, s, a.Place, a.Shelter))
}

// pace rides the head of the line over the approach.
func (a Approach) pace(rider *ride.Bike) (*pace, error) {
	bike, err := head()
	if err != nil {
		return nil, err
	}
	return lead(divide(a.Pieces, rider, &bike, cellM), &bike, a.SpeedMps, a.headPower(&bike)*bike.Efficiency)
}

func (a Approach) headPower(bike *ride.Bike) float64 {
	return max(meanPowerW(a.Pieces, bike, 1, a.SpeedMps), 0)
}

// HeadPowerW returns the power in W that the head of the line gives: a rider of 75 kg and
// 1.80 m on an all-round set-up.
func (a Approach) HeadPowerW() (float64, error) {
	bike, err := head()
	if err != nil {
		return 0, err
	}
	return a.headPower(&bike), nil
}

func find(ctx context.Context, f *follower) (*Sprint, error) {
	search, at, err := f.searched(ctx)
	if err != nil {
		return nil, err
	}
	return search.told(at), nil
}

// best returns the best launch of a follower.
func (f *follower) best(ctx context.Context) (Best, error) {
	_, at, err := f.searched(ctx)
	if err != nil {
		return Best{}, err
	}
	return f.describe(at), nil
}

// searched looks for the best launch, which is a distance from the start of the approach.
func (f *follower) searched(ctx context.Context) (*search, float64, error) {
	s, err := f.scan(ctx)
	if err != nil {
		return nil, 0, err
	}
	at, timeS := s.least()
	if math.IsInf(timeS, 1) {
		return nil, 0, halted(f.haltsAt(f.latestM()))
	}
	return s, at, nil
}

// haltsAt returns about where, from the start of the approach, a sprint comes to a halt.
func (f *follower) haltsAt(fromStartM float64) float64 {
	last := fromStartM
	f.sprint(fromStartM, func(atM float64, _ state) { last = atM })
	return last
}

// offsetsM are the launches that are told beside the best, in metres earlier.
func offsetsM() []float64 { return []float64{50, 25, -25, -50} }

// told sums up the launch at a distance from the start of the approach.
func (s *search) told(at float64) *Sprint {
	length := s.lengthM()
	out := &Sprint{
		Best: s.describe(at), HeadS: s.moments[len(s.moments)-1].timeS,
		FollowPowerW: s.meanPower(at), LostM: math.NaN(), AtOnce: at == 0,
	}
	first, last := s.flat(at, out.TimeS)
	out.EarliestM, out.LatestM = length-first, length-last
	if s.lost {
		out.LostM = length - s.latestM()
	}
	for _, d := range offsetsM() {
		if there := at - d; there >= 0 && there <= s.latestM() {
			cost := s.time(there) - out.TimeS
			out.Offsets = append(out.Offsets, Offset{EarlierM: d, CostS: cost, CostM: cost * out.LineSpeedMps})
		}
	}
	return out
}

// describe rides the sprint from a distance from the start of the approach and tells its
// course.
func (f *follower) describe(at float64) Best {
	var b Best
	var launched state
	end := f.sprint(at, func(atM float64, now state) {
		if launched == (state{}) {
			launched = now
		}
		if v := f.speed(now); v > b.PeakSpeedMps {
			b.PeakSpeedMps, b.PeakM = v, f.lengthM()-atM
		}
	})
	b.LaunchM, b.LaunchS = f.lengthM()-at, end.timeS-launched.timeS
	b.TimeS, b.AheadS = end.timeS, f.moments[len(f.moments)-1].timeS-end.timeS
	b.LaunchSpeedMps, b.LineSpeedMps = f.speed(launched), f.speed(end)
	b.LaunchPowerW, b.LinePowerW = f.power(launched), f.power(end)
	b.LaunchBalanceJ, b.LineBalanceJ = launched.balance, end.balance
	b.MeanPowerW = b.LaunchPowerW
	if b.LaunchS > 0 {
		b.MeanPowerW = f.sprinter.Rider.CriticalPowerW + (launched.balance-end.balance)/b.LaunchS
	}
	return b
}
