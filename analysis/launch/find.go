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
	return max(MeanPowerW(a.Pieces, bike, 1, a.SpeedMps), 0)
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
	search, err := f.scan(ctx)
	if err != nil {
		return nil, err
	}
	at, timeS := search.best()
	if math.IsInf(timeS, 1) {
		return nil, halted(f.haltsAt(f.latestM()))
	}
	return search.told(at, timeS), nil
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
func (s *search) told(at, timeS float64) *Sprint {
	length, headS := s.lengthM(), s.moments[len(s.moments)-1].timeS
	out := &Sprint{
		LaunchM: length - at, TimeS: timeS, AheadS: headS - timeS, HeadS: headS,
		FollowPowerW: s.meanPower(at), LostM: math.NaN(), AtOnce: at == 0,
	}
	first, last := s.flat(at, timeS)
	out.EarliestM, out.LatestM = length-first, length-last
	if s.lost {
		out.LostM = length - s.latestM()
	}
	s.describe(out, at)
	for _, d := range offsetsM() {
		if there := at - d; there >= 0 && there <= s.latestM() {
			cost := s.time(there) - timeS
			out.Offsets = append(out.Offsets, Offset{EarlierM: d, CostS: cost, CostM: cost * out.LineSpeedMps})
		}
	}
	return out
}

// describe rides the sprint once more and tells its course.
func (s *search) describe(out *Sprint, at float64) {
	var launched state
	end := s.sprint(at, func(atM float64, now state) {
		if launched == (state{}) {
			launched = now
		}
		if v := s.speed(now); v > out.PeakSpeedMps {
			out.PeakSpeedMps, out.PeakM = v, s.lengthM()-atM
		}
	})
	out.LaunchS = end.timeS - launched.timeS
	out.LaunchSpeedMps, out.LineSpeedMps = s.speed(launched), s.speed(end)
	out.LaunchPowerW, out.LinePowerW = s.power(launched), s.power(end)
	out.LaunchBalanceJ, out.LineBalanceJ = launched.balance, end.balance
	out.MeanPowerW = out.LaunchPowerW
	if out.LaunchS > 0 {
		out.MeanPowerW = s.sprinter.Rider.CriticalPowerW + (launched.balance-end.balance)/out.LaunchS
	}
}
