package race

import (
	"cmp"
	"math"
	"slices"

	"parcours.example/analysis/chance"
	"parcours.example/analysis/elementary"
)

// What is drawn for a run. Each purpose has a stream of its own.
const (
	luckOfForm uint64 = iota
	luckOfPlace
	luckOfOrders
	luckOfLaunch
	luckOfTurns
	luckOfMishaps
	luckOfResponse
	luckOfWish
)

// draw returns the stream of an entrant in this run for a purpose.
func (x *field) draw(i int, purpose uint64, more ...uint64) chance.Stream {
	names := append([]uint64{x.number, x.entrants[i].key, purpose}, more...)
	return chance.New(x.rules.Seed, names...)
}

// onTheDay returns an entrant at the start of a run, with the day's form and luck.
func (x *field) onTheDay(i int) rider {
	e := &x.entrants[i]
	r := rider{
		entrant: i, v: x.startMps, shelter: 1, does: ShareWork, form: 1, ledBy: -1, ledToM: math.Inf(-1),
		criticalPower: e.reserve.CriticalPowerW, wPrime: e.reserve.WPrimeJ,
		turnS: turnS, launchS: launchS, mishapAt: math.Inf(1),
	}
	maxPower := e.maxPowerW
	if x.raced {
		form := x.draw(i, luckOfForm)
		power, work := 1+float64(x.rules.FormPct/100*form.Normal()), 1+float64(x.rules.FormPct/100*form.Normal())
		x.run.FormPct[x.index[i]] = 100 * (power - 1)
		r.form = max(power, 0.5)
		r.criticalPower *= r.form
		r.wPrime *= max(work, 0.5)
		maxPower *= r.form
		launch := x.draw(i, luckOfLaunch)
		r.launchS = max(launchS+float64(x.rules.LaunchS*launch.Normal()), leastLaunchS)
		wish := x.draw(i, luckOfWish)
		r.wish = wish.Uniform()
		turns := x.draw(i, luckOfTurns)
		r.turnS = turnS * (0.7 + float64(0.6*turns.Uniform()))
		r.does = x.habit(i)
	}
	r.balance, r.least = r.wPrime, r.wPrime
	r.limitPerJ = (maxPower - r.criticalPower) / r.wPrime
	if x.rules.MishapsPerH > 0 {
		r.mishapAt = x.nextMishap(i, 0)
	}
	return r
}

// habit is what an entrant does where no order says otherwise.
func (x *field) habit(i int) OrderKind {
	e := &x.entrants[i]
	for _, o := range e.orders {
		switch o.Kind {
		case ShareWork, SitIn:
			return o.Kind
		case Save:
			return SitIn
		}
	}
	if len(e.orders) > 0 || !x.rules.VaryOrders {
		return ShareWork
	}
	luck := x.draw(i, luckOfOrders)
	if luck.Uniform() < sittingShare {
		return SitIn
	}
	return ShareWork
}

// nextMishap draws when an entrant's next mishap comes after a time.
func (x *field) nextMishap(i int, after float64) float64 {
	luck := x.draw(i, luckOfMishaps, uint64(after))
	return after - float64(3600/x.rules.MishapsPerH*elementary.Log(1-luck.Uniform()))
}

// shuffle lines the field up by lot.
func (x *field) shuffle() {
	if !x.raced {
		return
	}
	lots := make([]float64, len(x.riders))
	for i := range lots {
		lot := x.draw(i, luckOfPlace)
		lots[i] = lot.Uniform()
	}
	slices.SortFunc(x.order, func(a, b int) int { return cmp.Compare(lots[a], lots[b]) })
}
