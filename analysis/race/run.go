package race

import (
	"context"
	"math"

	"parcours.example/analysis/elementary"
	"parcours.example/analysis/ride"
)

// rider is an entrant in a run.
type rider struct {
	entrant int
	// s and v are the position and the speed along the road, a the last acceleration.
	s, v, a float64
	cell    int
	// debt is height that is still to be climbed; see push.
	debt float64
	// nearLimit says that the limit of a bend may be met in this step.
	nearLimit bool
	// shelter is the drag over the drag alone, power the rider's, most the speed that the
	// brakes keep to.
	shelter, power, most float64
	// balance is that of W′; criticalPower, wPrime and limitPerJ are those of the day,
	// limitPerJ by how much the highest power falls with the balance.
	balance, criticalPower, wPrime, limitPerJ float64
	// form is the day's factor on the effort.
	form float64
	// step is the index into the entrant's steps.
	step int
	// does is the habit.
	does OrderKind
	// saving and leading are what orders ask for here; ledBy is the one who leads this rider
	// out, −1 for nobody.
	saving, leading bool
	ledBy           int
	// ledToM is the line to which the rider is or was led out.
	ledToM float64

	// led is the time at the front in this turn, turnS its length, resting the time that
	// is left of the rest from it.
	led, turnS, resting float64
	// attacking is what is left of an attack in s, responding of going with one.
	attacking, responding float64
	// wish is the place in the group, 0…1 of it, that is taken before the finish.
	wish float64
	// comingThrough says that the rider goes to make the pace.
	comingThrough bool
	// launchS is how long before a line sprints are launched; sprinting says that one is.
	launchS   float64
	sprinting bool
	// contest is the index of the next contested line, line that of the next line told.
	contest, line int
	// mishapAt is when the next mishap comes, standing what is left of it.
	mishapAt, standing float64
	// crawled is for how long hardly any way was made.
	crawled float64
	// behind says that the front group was let go, pacing that others follow.
	behind, pacing bool
	// cruise is the speed of the last while.
	cruise float64
	out    bool

	work, least, front, sheltered float64
}

// field is a run under way.
type field struct {
	*Race
	run    *Run
	number uint64
	riders []rider
	// order has the indices of the riders on the road, the first first; pack and away are
	// those of it who ride with the field and who ride away from it.
	order, pack, away []int
	now               float64
	// trail is how the last pacer went over each cell.
	trail []passage
	// done says, order by order of all entrants, whether it was carried out.
	done []bool
	// frontTail is the position of the last of the first group.
	frontTail float64
	// raced says that there is somebody to race against.
	raced bool
}

// passage is how a pacer went over a cell.
type passage struct {
	// passedAt is when, in s, its start was passed; negative for never.
	passedAt float64
	// v is the speed there, slowness 1/v.
	v, slowness float64
}

// checkEvery is the number of steps after which the context is looked at.
const checkEvery = 16

// Ride races one run, numbered from 0, into what is given. The same run is always the
// same. Its error is the context's.
func (r *Race) Ride(ctx context.Context, number int, into *Run) error {
	x := r.start(number, into)
	for step := 0; len(x.order) > 0; step++ {
		if step%checkEvery == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		x.step()
	}
	x.close()
	return nil
}

// start lines the field up.
func (r *Race) start(number int, into *Run) *field {
	n := len(r.entrants)
	if into.last == nil || into.last.Race != r {
		into.last = &field{Race: r, riders: make([]rider, n), trail: make([]passage, len(r.ground.cells)), done: make([]bool, r.orders)}
	}
	x := into.last
	x.run, x.number, x.raced, x.now, x.order = into, uint64(number), n > 1, 0, x.order[:0]
	for i := range x.trail {
		x.trail[i] = passage{passedAt: -1} // nobody goes by what another run left
	}
	clear(x.done)
	into.reset(n, len(r.lines))
	for i := range x.riders {
		x.riders[i] = x.onTheDay(i)
		x.order = append(x.order, i)
	}
	x.shuffle()
	return x
}

func (r *Run) reset(n, lines int) {
	fill := func(s *[]float64, n int, v float64) {
		if cap(*s) < n {
			*s = make([]float64, n)
		}
		*s = (*s)[:n]
		for i := range *s {
			(*s)[i] = v
		}
	}
	fill(&r.CrossingS, n*lines, math.NaN())
	for _, s := range []*[]float64{&r.WorkJ, &r.LeastBalanceJ, &r.FrontS, &r.ShelteredS, &r.FormPct} {
		fill(s, n, 0)
	}
	r.Events = r.Events[:0]
}

// close writes down what is known of each entrant at the end.
func (x *field) close() {
	for k := range x.riders {
		r, i := &x.riders[k], x.index[k]
		x.run.WorkJ[i], x.run.LeastBalanceJ[i], x.run.FrontS[i], x.run.ShelteredS[i] = r.work, r.least, r.front, r.sheltered
	}
}

// step moves the whole field on. Everybody decides by what is there at its start.
func (x *field) step() {
	x.sort()
	x.look()
	for _, i := range x.order {
		x.ride(&x.riders[i])
	}
	x.now += x.rules.StepS
	kept := x.order[:0]
	for _, i := range x.order {
		if r := &x.riders[i]; !r.out && r.s < x.ground.length {
			kept = append(kept, i)
		}
	}
	x.order = kept
}

// sort puts the riders in order of their positions. Who is ahead of another by less than
// half a metre hasn't passed him: riders side by side keep their places. It hardly ever has
// much to do.
func (x *field) sort() {
	for k := 1; k < len(x.order); k++ {
		i := x.order[k]
		s := x.riders[i].s - passedM
		j := k
		for ; j > 0 && x.riders[x.order[j-1]].s < s; j-- {
			x.order[j] = x.order[j-1]
		}
		x.order[j] = i
	}
}

// passedM is by how much one is ahead of another who has passed him.
const passedM = 0.5

// hardlyMps is a speed below which nobody keeps upright for hardlyS.
const (
	hardlyMps = 0.3
	hardlyS   = 60
)

// ride moves a rider on by a step, with the power and toward the speed that look set.
func (x *field) ride(r *rider) {
	h, e := x.rules.StepS, &x.entrants[r.entrant]
	if x.now >= r.mishapAt {
		r.standing, r.mishapAt = x.rules.MishapS, x.nextMishap(r.entrant, x.now+x.rules.MishapS)
		x.happened(HadMishap, r)
	}
	if r.standing > 0 {
		r.standing -= h
		r.v, r.a, r.power = 0, 0, 0
		r.spend(e, h)
		return
	}
	s, v, cell := r.s, r.v, r.cell
	x.advance(r, &e.body, r.power*e.efficiency, h)
	if r.v > r.most {
		r.v = r.most
		r.a = (r.v - v) / h
	}
	r.work += float64(r.power * h * x.onRoad(r, s, v))
	r.spend(e, h)
	if r.shelter < 0.75 {
		r.sheltered += h
	}
	x.cross(r, s, v)
	r.cruise += float64((r.v - r.cruise) * min(h/cruiseS, 1))
	if r.pacing && r.cell > cell {
		x.leaveTrail(r, s, v, cell)
	}
	r.crawled += h
	if r.v > hardlyMps {
		r.crawled = 0
	}
	if r.crawled > hardlyS {
		r.out = true
		x.happened(GaveUp, r)
	}
}

// onRoad returns the share of a step from a position and a speed that was ridden before
// the end of the road.
func (x *field) onRoad(r *rider, from, v float64) float64 {
	if r.s <= x.ground.length {
		return 1
	}
	return crossed((x.ground.length-from)/(r.s-from), v, r.v)
}

// cruiseS is the time in seconds over which the speed of a group is taken.
const cruiseS = 15.0

// leaveTrail notes how a pacer who was at a position of a cell went over the starts of
// the next ones.
func (x *field) leaveTrail(r *rider, from, v float64, cell int) {
	way := r.s - from
	for i := cell + 1; i <= r.cell; i++ {
		share := (x.ground.cells[i].start - from) / way
		there := max(v+float64(share*(r.v-v)), 0.5)
		x.trail[i] = passage{x.now + float64(x.rules.StepS*crossed(share, v, r.v)), there, 1 / there}
	}
}

// spend counts the balance of W′.
func (r *rider) spend(e *entrant, h float64) {
	deficit := r.criticalPower - r.power
	if deficit < 0 {
		r.balance += float64(deficit * h)
		r.least = min(r.least, r.balance)
		return
	}
	decay := e.reserve.RecoveryRate * deficit / r.wPrime
	if e.reserve.Law == ride.Bartram2018 {
		decay = e.reserve.RecoveryRate * elementary.Pow(deficit, 0.688) / 2287.2
	}
	z := decay * h
	r.balance += float64((r.wPrime - r.balance) * z / (1 + float64(z/2) + float64(z*z)/12))
}

// cross notes the lines that were crossed in a step, at constant acceleration between its
// ends.
func (x *field) cross(r *rider, from, v float64) {
	for r.line < len(x.lines) && r.s >= x.lines[r.line] {
		share := 1.0
		if way := r.s - from; way > 0 {
			d := x.lines[r.line] - from
			// d = v·t + (v₁ − v)·t²/2h with the way covered in h
			share = crossed(d/way, v, r.v)
		}
		x.run.CrossingS[x.lineOf[r.line]*len(x.riders)+x.index[r.entrant]] = x.now + float64(x.rules.StepS*share)
		r.line++
	}
}

// crossed returns the share of a step's time after which a share of its way is behind,
// where the speed goes evenly from v to w.
func crossed(way, v, w float64) float64 {
	mean := (v + w) / 2
	if mean <= 0 {
		return way
	}
	v, w = v/mean, w/mean
	// way = v·t + (w − v)·t²/2
	half := (w - v) / 2
	root := math.Sqrt(max(float64(v*v)+float64(4*half*way), 0))
	if v+root <= 0 {
		return way
	}
	return min(2*way/(v+root), 1)
}

// happened notes an event.
func (x *field) happened(kind EventKind, r *rider) {
	if x.run.KeepEvents {
		x.run.Events = append(x.run.Events, Event{Kind: kind, Entrant: x.index[r.entrant], TimeS: x.now, AtM: x.ground.horizontal(r.s)})
	}
}
