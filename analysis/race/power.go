package race

import (
	"math"

	"parcours.example/analysis/ride"
)

// What riders do with what they have. None of these have a source: they are common
// practice put into numbers, and stated in the answers.
const (
	// holdS is how long W′ must last at the power that a wheel takes.
	holdS = 40.0
	// holdKeeps and saveKeeps are the shares of W′ at which a wheel is let go.
	holdKeeps, saveKeeps = 0.05, 0.5
	// turnS is the length of a turn at the front, mostMates the number of turns rested.
	turnS, mostMates = 45.0, 5
	// pullKeeps is the share of W′ above which a turn spends, within pullS.
	pullKeeps, pullS = 0.6, 90.0
	// chaseM is from how far a group ahead is chased, chaseKeeps the share of W′ above
	// which it is, within chaseS.
	chaseM, chaseKeeps, chaseS = 100.0, 0.3, 60.0
	// unwilling is the share of his effort that a rider gives at the front of a group in
	// which nobody works.
	unwilling = 0.8
	// allInS before the finish a rider begins to spend what is above allInKeeps of W′.
	allInS, allInKeeps = 600.0, 0.3
	// shortS is the time that W′ must last at any effort.
	shortS = 20.0
	// launchS is how long before a line a sprint is launched, leastLaunchS the latest.
	launchS, leastLaunchS, longestLaunchS = 12.0, 5.0, 18.0
	// attackKeeps, sprintKeeps and orderedKeeps are the shares of W′ that an attack, a
	// sprint for a line on the way, and one that was ordered leave.
	attackKeeps, sprintKeeps, orderedKeeps = 0.2, 0.4, 0.1
	// leastToContest is the share of W′ with which a line on the way is contested.
	leastToContest = 0.5
	// leadEndsM before the line a lead-out ends.
	leadEndsM = 150.0
	// nearM is how near rivals must be for a sprint, sprinters how many are in it.
	nearM, sprinters = 40.0, 20
	// placesS before the finish places are fought for; who is to sprint fights for one in
	// the first part of the group, sprintersWish of it.
	placesS, sprintersWish = 180.0, 0.35
	// sittingShare is the share of those without orders who sit in, in a run.
	sittingShare = 0.4
)

// effort is the power of the entrant's steps over the way that the next h seconds take.
func (r *rider) effort(e *entrant, h float64) float64 {
	for r.s >= e.steps[r.step].EndM {
		r.step++
	}
	way := float64(h * (r.v + float64(h/2*r.a)))
	to := r.s + way
	if to <= e.steps[r.step].EndM {
		return e.steps[r.step].PowerW
	}
	work, from := 0.0, r.s
	for i := r.step; from < to; i++ {
		end := min(e.steps[i].EndM, to)
		work += float64(e.steps[i].PowerW * (end - from))
		from = end
	}
	return work / way
}

// limitW is the highest power that the balance of W′ allows.
func (r *rider) limitW() float64 {
	switch {
	case !math.IsNaN(r.limitPerJ):
		return r.criticalPower + float64(r.limitPerJ*max(r.balance, 0))
	case r.balance > 0:
		return ride.UnknownMaxFactor * r.criticalPower
	}
	return r.criticalPower
}

// spendOver is the power that spends what is above a share of W′ evenly over a time, as
// far as the rider can.
func (r *rider) spendOver(seconds, keeps float64) float64 {
	return min(r.criticalPower+max(r.balance-float64(keeps*r.wPrime), 0)/seconds, r.limitW())
}

// holdW is the most that a rider gives to keep a wheel.
func (r *rider) holdW() float64 {
	if r.saving {
		return r.spendOver(holdS, saveKeeps)
	}
	return r.spendOver(holdS, holdKeeps)
}

// ownW is what a rider gives for himself: his effort, near the finish all that is left.
func (x *field) ownW(r *rider) float64 {
	w := float64(r.form * r.effort(&x.entrants[r.entrant], x.rules.StepS))
	left := (x.ground.length - r.s) / max(r.v, 2)
	if left < allInS && r.balance > allInKeeps*r.wPrime {
		w = max(w, r.spendOver(max(left, holdS), allInKeeps))
	}
	return min(w, r.spendOver(shortS, 0))
}

// pullW is what a rider whose own power is w gives at the front of a group: more where
// others take turns with him, and where a group ahead is near.
func (x *field) pullW(g *group, r *rider, w float64) float64 {
	if g.mates > 1 {
		w += max(r.balance-float64(pullKeeps*r.wPrime), 0) / pullS
	}
	if d := g.ahead - r.s; d < chaseM && !r.saving {
		w += min((chaseM-d)/(chaseM/2), 1) * max(r.balance-float64(chaseKeeps*r.wPrime), 0) / chaseS
	}
	return min(w, r.spendOver(shortS, 0))
}

// pace is the work of the one who makes it.
func (x *field) pace(g *group, r *rider) {
	switch {
	case r.leading:
		ends := x.leadOutOf(r).AtM - leadEndsM
		r.free(r.spendOver(max((ends-r.s)/max(r.v, 5), 5), 0))
		return
	case !g.willing && len(g.members) > 1:
		r.free(unwilling * x.ownW(r))
		return
	}
	r.free(x.pullW(g, r, x.ownW(r)))
	if g.mates > 1 {
		r.led += x.rules.StepS
		if r.led > r.turnS {
			r.led, r.resting = 0, float64(r.turnS*float64(min(g.mates-1, mostMates)))
		}
	}
}

// contend launches a sprint for the next contested line, and ends it behind the line.
func (x *field) contend(g *group, k int, r *rider) {
	for r.contest < len(x.contested)-1 && r.s >= x.contested[r.contest].at {
		r.contest++
		if r.sprinting {
			r.sprinting, r.resting = false, turnS
		}
	}
	final := r.contest == len(x.contested)-1
	if r.sprinting || (!final && k >= sprinters) || r.leading || math.IsInf(r.resting, 1) {
		return
	}
	to := x.contested[r.contest].at - r.s
	if to/max(r.v, 3) > x.launchFrom(r) || (len(g.members) < 2 && g.ahead-r.s > nearM) {
		return
	}
	if final || x.wants(r) {
		r.sprinting, r.ledBy = true, -1
		x.happened(Launched, r)
	}
}

// launchFrom is how long before the line a rider launches. Who is there to sprint does so
// as early as what is left lasts.
func (x *field) launchFrom(r *rider) float64 {
	if !x.ordered(r, r.contest) {
		return r.launchS
	}
	lasts := r.balance / max(r.limitW()-r.criticalPower, 1)
	return r.launchS + max(min(lasts, longestLaunchS)-launchS, 0)
}

// wants tells whether a rider contests the next line on the way: told to, led out to it, or
// free to and fresh.
func (x *field) wants(r *rider) bool {
	free := x.contested[r.contest].open && len(x.entrants[r.entrant].orders) == 0
	return x.ordered(r, r.contest) || free && r.balance > leastToContest*r.wPrime
}

// ordered tells whether a rider is to sprint for a contested line, or is led out to it.
func (x *field) ordered(r *rider, contest int) bool {
	if math.Abs(r.ledToM-x.contested[contest].at) <= sameLineM {
		return true
	}
	orders := x.entrants[r.entrant].orders
	for i := range orders {
		if orders[i].Kind == Sprint && math.Abs(orders[i].AtM-x.contested[contest].at) <= sameLineM {
			return true
		}
	}
	return false
}

// sprintW is the power of a sprint.
func (x *field) sprintW(r *rider) float64 {
	keeps := 0.0
	if r.contest < len(x.contested)-1 {
		keeps = sprintKeeps
		if x.ordered(r, r.contest) {
			keeps = orderedKeeps
		}
	}
	to := x.contested[r.contest].at - r.s
	return r.spendOver(max(to/max(r.v, 3), 2), keeps)
}
