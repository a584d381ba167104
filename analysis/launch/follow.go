package launch

import (
	"math"

	"parcours.example/analysis/ride"
	"parcours.example/analysis/shelter"
)

// follower is a rider behind the wheel.
type follower struct {
	*pace
	sprinter Sprinter
	reserve  ride.Reserve
	// perJ is by how much the power that the rider can give rises with the balance, in W/J.
	perJ float64
	// shelter is the drag over the drag alone, ahead the number of riders ahead.
	shelter float64
	ahead   int
	// apartS is the time between two riders of the line.
	apartS float64
	// balances are those of W′ at the starts of the cells and at the line, up to the last one
	// that the wheel can be held to; workJ is the work up to each of them.
	balances, workJ []float64
	// lost is true where the wheel is lost at the last of the balances.
	lost bool
}

// follow rides a rider behind the head's pace, as far as that can be held.
func follow(p *pace, s Sprinter, place int, share float64) *follower {
	reserve, _ := ride.NewReserve(s.Rider)
	f := &follower{
		pace: p, sprinter: s, reserve: reserve, shelter: share, ahead: place - 1,
		perJ:   (s.Rider.PowerLimitW(s.Rider.WPrimeJ) - s.Rider.CriticalPowerW) / s.Rider.WPrimeJ,
		apartS: pitchM / p.moments[0].speedMps, balances: []float64{s.BalanceJ}, workJ: []float64{0},
	}
	for i := range p.cells {
		balance := f.balances[i]
		power := f.needed(i)
		if power > f.limit(balance) {
			f.lost = true
			break
		}
		dt := p.moments[i+1].timeS - p.moments[i].timeS
		f.workJ = append(f.workJ, f.workJ[i]+float64(power*dt))
		f.balances = append(f.balances, max(reserve.After(balance, power, dt), 0))
	}
	return f
}

// limit returns the highest power in W that the rider can give at a balance of W′: what
// ride.Rider.PowerLimitW has, a straight line.
func (f *follower) limit(balanceJ float64) float64 {
	return f.sprinter.Rider.CriticalPowerW + float64(f.perJ*balanceJ)
}

// needed returns the rider's mean power over cell i at the head's pace, 0 where it is
// downhill enough.
func (f *follower) needed(i int) float64 {
	c, from, to := &f.cells[i], f.moments[i], f.moments[i+1]
	v := float64((from.speedMps + to.speedMps) / 2)
	r := sheltered(c.rider, f.shelter)
	gained := float64(f.sprinter.Bike.InertiaKg / 2 * (to.speedMps - from.speedMps) * (to.speedMps + from.speedMps))
	work := float64(r.Force(v)*c.roadM) + gained
	return max(work/(to.timeS-from.timeS)/f.sprinter.Bike.Efficiency, 0)
}

// lengthM is the approach's, latestM the distance from its start at which a sprint can be
// launched at the latest.
func (f *follower) lengthM() float64 {
	last := &f.cells[len(f.cells)-1]
	return last.startM + last.lengthM
}

func (f *follower) latestM() float64 {
	if f.lost {
		return f.cells[len(f.balances)-1].startM
	}
	return f.lengthM()
}

// behindS is how long after the head the rider passes a place.
func (f *follower) behindS() float64 { return float64(float64(f.ahead) * f.apartS) }

// lee returns the drag over the drag alone of a rider who passes a place a number of seconds
// after the wheel that was followed did, at v m/s. It is that of the place in the line while
// the wheel is followed, fades linearly to none until the rider draws level, and where the
// gap opens by shelter.Gap.
func (f *follower) lee(afterS, v float64) float64 {
	if f.ahead == 0 {
		return 1
	}
	share := afterS / f.apartS
	if share > 1 {
		share = left(float64((afterS-f.apartS)*v) + closeGapM)
	}
	return 1 - float64((1-f.shelter)*max(share, 0))
}

// left returns the share of the lee at close riding that a gap in metres leaves.
func left(gapM float64) float64 { return (1 - shelter.Gap(gapM)) / (1 - shelter.Gap(closeGapM)) }

// at returns the state of the follower at a distance from the start of the approach, up to
// latestM, with the cell it is in and the metres of road into it.
func (f *follower) at(fromStartM float64) (s state, i int, roadM float64) {
	i = f.cellAt(fromStartM)
	c := &f.cells[i]
	roadM = min(max((fromStartM-c.startM)/c.lengthM, 0), 1) * c.roadM
	now := f.after(i, f.moments[i], roadM)
	return state{
		energy:  0.5 * f.sprinter.Bike.InertiaKg * now.speedMps * now.speedMps,
		timeS:   now.timeS + f.behindS(),
		balance: f.between(f.balances, i, now.timeS),
	}, i, roadM
}

// between returns what is known at the ends of cell i at a time within it.
func (f *follower) between(known []float64, i int, timeS float64) float64 {
	if i+1 >= len(known) {
		return known[i]
	}
	from, to := f.moments[i].timeS, f.moments[i+1].timeS
	return known[i] + float64((known[i+1]-known[i])*((timeS-from)/(to-from)))
}

// cellAt finds the cell at a distance from the start of the approach.
func (f *follower) cellAt(fromStartM float64) int {
	low, high := 0, len(f.cells)
	for high-low > 1 {
		mid := (low + high) / 2
		if f.cells[mid].startM <= fromStartM {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// meanPower returns the mean power as far as a distance from the start of the approach, NaN at
// the start.
func (f *follower) meanPower(fromStartM float64) float64 {
	s, i, _ := f.at(fromStartM)
	elapsed := s.timeS - f.behindS()
	if elapsed <= 0 {
		return math.NaN()
	}
	return f.between(f.workJ, i, elapsed) / elapsed
}
