package tally

import (
	"math"

	"parcours.example/analysis/race"
)

// entrant is what an entrant's runs come to.
type entrant struct {
	finishes                                         int32
	timeS, powerW, leastBalanceJ, frontS, shelteredS moments
}

// add counts the run of entrant i, who finished at a time, or never.
func (e *entrant) add(i int, r *race.Run, finishMs int64) {
	e.leastBalanceJ.add(r.LeastBalanceJ[i])
	e.frontS.add(r.FrontS[i])
	e.shelteredS.add(r.ShelteredS[i])
	if finishMs == never {
		return
	}
	e.finishes++
	e.timeS.addThousandths(finishMs)
	if finishMs > 0 {
		e.powerW.add(r.WorkJ[i] * 1000 / float64(finishMs))
	}
}

func (e *entrant) merge(other *entrant) {
	e.finishes += other.finishes
	e.timeS.merge(other.timeS)
	e.powerW.merge(other.powerW)
	e.leastBalanceJ.merge(other.leastBalanceJ)
	e.frontS.merge(other.frontS)
	e.shelteredS.merge(other.shelteredS)
}

// podium is how many stand on it.
const podium = 3

func (t *Tally) entrant(i int) Entrant {
	e := &t.entrants[i]
	shares := t.places[i*len(t.entrants) : (i+1)*len(t.entrants)]
	out := Entrant{
		Team:   t.plan.teams()[i],
		Places: make([]float64, len(shares)),
		Place:  t.typical.places[i].mean(),
		Win:    oddsOf(shares[0], t.runs), Podium: oddsOf(sum(shares[:min(podium, len(shares))]), t.runs),
		DidNotFinish: oddsIn(int32(t.runs)-e.finishes, t.runs),
		TimeS:        e.timeS.mean(), PowerW: e.powerW.mean(),
		LeastBalanceJ: e.leastBalanceJ.mean(), FrontS: e.frontS.mean(), ShelteredS: e.shelteredS.mean(),
	}
	for place, s := range shares {
		out.Places[place] = float64(s) / (float64(t.runs) * whole)
		if t.runs == 0 {
			out.Places[place] = math.NaN()
		}
	}
	return out
}

// sum returns a sum of shares.
func sum(shares []int64) (total int64) {
	for _, s := range shares {
		total += s
	}
	return total
}
