package plan

import (
	"fmt"
	"math"

	"parcours.example/analysis/ride"
	"parcours.example/analysis/wording"
)

// figures are what a step comes to, for its reason.
type figures struct {
	fromM, toM float64
	// powerW is asked, givenW the mean that is ridden.
	powerW, givenW float64
	timeS          float64
	// speedMps is along the course, arrivalMps that at the end.
	speedMps, arrivalMps float64
	// gradient is the mean, headwindMps the mean over time.
	gradient, headwindMps float64
	// fromJ and toJ are the balance of W′ at its ends, NaN where it isn't known.
	fromJ, toJ float64
	// coastM is the length on which the road takes all pedalling away.
	coastM float64
	// worth is the time in s that a joule more saves here at the constant power.
	worth float64
}

// spentJ is the fall of the balance on the step.
func (f *figures) spentJ() float64 { return f.fromJ - f.toJ }

// explained is all that reasons are made of.
type explained struct {
	*task
	ride  *ride.Ride
	steps []figures
	// worth is that of the whole course.
	worth float64
}

// explain takes a ride in steps apart.
func (t *task) explain(found *tried, p *Plan) *explained {
	a := &explained{task: t, ride: found.ride, steps: make([]figures, len(found.asked))}
	from := 0.0
	for i, s := range found.asked {
		a.steps[i] = figures{fromM: from, toM: s.EndM, powerW: s.PowerW, fromJ: math.NaN(), toJ: math.NaN()}
		from = s.EndM
	}
	a.measure(found)
	a.value(p)
	return a
}

// measure fills the figures in from the ride.
func (a *explained) measure(found *tried) {
	r := a.respond(found.ride, found.asked)
	into := r.steps(ends(found.asked))
	tr := &found.ride.Trace
	piece := 0
	for i, x := range r.reaches {
		f := &a.steps[into[i]]
		mid := (x.startM + x.endM) / 2
		for piece < len(a.road.Pieces)-1 && a.road.Pieces[piece].EndM <= mid {
			piece++
		}
		p := &a.road.Pieces[piece]
		f.timeS += x.timeS
		f.givenW += float64(x.powerW * x.timeS)
		f.gradient += float64(p.Gradient * (x.endM - x.startM))
		f.headwindMps += float64(p.HeadwindMps * x.timeS)
		if x.powerW <= givenW && f.powerW > givenW {
			f.coastM += x.endM - x.startM
		}
		if tr.WBalanceJ != nil {
			if math.IsNaN(f.fromJ) {
				f.fromJ = tr.WBalanceJ[i]
			}
			f.toJ = tr.WBalanceJ[i+1]
		}
		f.arrivalMps = tr.SpeedMps[i+1]
	}
	for i := range a.steps {
		f := &a.steps[i]
		f.givenW /= f.timeS
		f.headwindMps /= f.timeS
		f.gradient /= f.toM - f.fromM
		f.speedMps = (f.toM - f.fromM) / f.timeS
	}
}

func ends(steps []ride.Step) []float64 {
	at := make([]float64, len(steps))
	for i, s := range steps {
		at[i] = s.EndM
	}
	return at
}

// value sets what work is worth on the steps and on the whole when power is constant.
func (a *explained) value(p *Plan) {
	r := a.respond(p.Constant, []ride.Step{{EndM: a.road.LengthM(), PowerW: p.ConstantPowerW}})
	endsM := make([]float64, len(a.steps))
	for i := range a.steps {
		endsM[i] = a.steps[i].toM
	}
	into := r.steps(endsM)
	time := make([]float64, len(a.steps))
	total, all := 0.0, 0.0
	for i, by := range r.timeBy() {
		a.steps[into[i]].worth -= by
		time[into[i]] += r.reaches[i].timeS
		total, all = total-by, all+r.reaches[i].timeS
	}
	for i := range a.steps {
		a.steps[i].worth /= time[i]
	}
	a.worth = total / all
}

// Bounds within which a reason is true enough to be given.
const (
	// unlike is the share by which work must be worth more or less than on the whole.
	unlike = 0.05
	// evenShare is how far, as a share, from the mean power a power is that is called even.
	evenShare = 0.03
	// tellingJ is a change of the balance worth telling.
	tellingJ = 100.0
	// windMps is a wind worth telling, slopePct a gradient.
	windMps, slopePct = 1.0, 1.0
	// emptyShare is the share of W′ below which nothing is left.
	emptyShare = 0.02
	// startShare is the share of the speed at its end below which a step starts slow.
	startShare = 0.7
	// finishShare is the share of the course up to which a last step is called a finish.
	finishShare = 0.4
	// keepingW is how near to critical power a power is that keeps the balance.
	keepingW = 3.0
	// coastShare is the share of a step's length that is freewheeled where it is told.
	coastShare = 0.3
)

// reason is what a step is for.
type reason int

// The reasons, the first that holds is given.
const (
	atBound reason = iota
	toStart
	toFinish
	toFreewheel
	toKeep
	whereSlow
	whereFast
	toSave
	comesBack
	evenly
	apart
)

// reasonOf returns the first reason that holds for a step, and its words.
func (a *explained) reasonOf(i int) (reason, string) {
	for r := atBound; r < apart; r++ {
		if words := a.say(r, i); words != "" {
			return r, words
		}
	}
	return apart, a.apart(i)
}

// say returns a reason's words, empty where it doesn't hold.
func (a *explained) say(r reason, i int) string {
	switch r {
	case atBound:
		return a.atBound(i)
	case toStart:
		return a.toStart(i)
	case toFinish:
		return a.toFinish(i)
	case toFreewheel:
		return a.toFreewheel(i)
	case toKeep:
		return a.toKeep(i)
	case whereSlow:
		return a.whereSlow(i)
	case whereFast:
		return a.whereFast(i)
	case toSave:
		return a.toSave(i)
	case comesBack:
		return a.comesBack(i)
	}
	return a.evenly(i)
}

// atBound: the power is the highest or the least that is allowed.
func (a *explained) atBound(i int) string {
	f := &a.steps[i]
	switch {
	case f.powerW > a.limits.MaxPowerW-1:
		return fmt.Sprintf("%s: the highest power allowed%s", a.ground(i), a.change(i))
	case f.powerW < a.limits.MinPowerW+1:
		return fmt.Sprintf("%s: the least power allowed%s", a.ground(i), a.change(i))
	}
	return ""
}

// toStart: a start slower than the course is ridden, at more than what follows.
func (a *explained) toStart(i int) string {
	f := &a.steps[i]
	if i > 0 || len(a.steps) == 1 || f.powerW <= a.steps[1].powerW || a.ride.Trace.SpeedMps[0] >= startShare*f.arrivalMps {
		return ""
	}
	from := "from standstill"
	if v := a.ride.Trace.SpeedMps[0]; v > 0 {
		from = "from " + wording.Speed(v)
	}
	return fmt.Sprintf("%s up to %s%s", from, wording.Speed(f.arrivalMps), a.change(i))
}

// toFinish: the last step spends down to nothing, or to the reserve that is asked for.
func (a *explained) toFinish(i int) string {
	f := &a.steps[i]
	long := f.toM-f.fromM > finishShare*a.road.LengthM()
	if i < len(a.steps)-1 || long || !(f.spentJ() >= tellingJ) || f.powerW <= a.sustained() {
		return ""
	}
	head := fmt.Sprintf("last %s", wording.Metres(f.toM-f.fromM))
	switch left := f.toJ - a.limits.EndReserveJ; {
	case left > emptyShare*a.capacity.WPrimeJ:
		return fmt.Sprintf("%s: spend %s, %s stay", head, wording.Kilojoules(f.spentJ()), wording.Kilojoules(f.toJ))
	case a.limits.EndReserveJ > 0:
		return fmt.Sprintf("%s: spend %s, down to the reserve of %s", head, wording.Kilojoules(f.spentJ()), wording.Kilojoules(a.limits.EndReserveJ))
	}
	return fmt.Sprintf("%s: spend what is left, %s", head, wording.Kilojoules(f.spentJ()))
}

// toFreewheel: much of the step is too fast to pedal.
func (a *explained) toFreewheel(i int) string {
	f := &a.steps[i]
	if f.coastM < coastShare*(f.toM-f.fromM) {
		return ""
	}
	return fmt.Sprintf("%s: too fast to pedal for %s%s", a.ground(i), wording.Metres(f.coastM), a.change(i))
}

// toKeep: critical power, which takes nothing of the balance, before a step that spends.
func (a *explained) toKeep(i int) string {
	f := &a.steps[i]
	next := a.nextSpender(i + 1)
	if !(math.Abs(f.spentJ()) < emptyShare*a.capacity.WPrimeJ) || math.Abs(f.powerW-a.sustained()) > keepingW || next < 0 {
		return ""
	}
	return fmt.Sprintf("%s: critical power keeps W′ %s", a.ground(i), a.forStep(i, next))
}

// forStep names a later step by what it spends.
func (a *explained) forStep(i, next int) string {
	n := &a.steps[next]
	ahead := "next"
	if far := n.fromM - a.steps[i].toM; far > sameM {
		ahead = wording.Metres(far) + " on"
	}
	return fmt.Sprintf("for the %s to spend at %s W, %s", wording.Kilojoules(n.spentJ()), wording.Rounded(n.powerW, 0), ahead)
}

// whereSlow: more than the mean power where work is worth more than on the whole.
func (a *explained) whereSlow(i int) string {
	f := &a.steps[i]
	if f.powerW <= a.ride.MeanPowerW || f.worth < (1+unlike)*a.worth {
		return ""
	}
	return fmt.Sprintf("%s: a kilojoule more saves %s%s", a.ground(i), a.worths(i), a.change(i))
}

// whereFast: less than the mean power where work is worth less than on the whole.
func (a *explained) whereFast(i int) string {
	f := &a.steps[i]
	if f.powerW >= a.ride.MeanPowerW || f.worth > (1-unlike)*a.worth {
		return ""
	}
	if f.gradient*100 <= -slopePct && f.spentJ() <= -tellingJ {
		return fmt.Sprintf("%s: recover %s", a.ground(i), wording.Kilojoules(-f.spentJ()))
	}
	return fmt.Sprintf("%s: a kilojoule more saves only %s%s", a.ground(i), a.worths(i), a.change(i))
}

// toSave: at most critical power before a step that spends.
func (a *explained) toSave(i int) string {
	f := &a.steps[i]
	next := a.nextSpender(i + 1)
	if !(f.powerW <= a.sustained()) || f.powerW >= a.ride.MeanPowerW || next < 0 {
		return ""
	}
	gained := ""
	if f.spentJ() <= -tellingJ {
		gained = "recover " + wording.Kilojoules(-f.spentJ()) + " "
	}
	return fmt.Sprintf("%s: %s%s", a.ground(i), gained, a.forStep(i, next))
}

// nextSpender returns the next step, from one on, that spends, −1 where none does.
func (a *explained) nextSpender(from int) int {
	for i := from; i < len(a.steps); i++ {
		if a.steps[i].spentJ() >= tellingJ {
			return i
		}
	}
	return -1
}

// comesBack: what is spent comes back, half of it at least, before the next step that
// spends, or would be lost because W′ is full by then.
func (a *explained) comesBack(i int) string {
	f := &a.steps[i]
	next := a.nextSpender(i + 1)
	if f.powerW <= a.ride.MeanPowerW || next < 0 || !(f.spentJ() >= tellingJ) {
		return ""
	}
	back := a.steps[next].fromJ - f.toJ
	if back < f.spentJ()/2 {
		return ""
	}
	return fmt.Sprintf("%s: spend %s, of which %s are back %s later", a.ground(i), wording.Kilojoules(f.spentJ()),
		wording.Kilojoules(min(back, f.spentJ())), wording.Metres(a.steps[next].fromM-f.toM))
}

// evenly: about the mean power.
func (a *explained) evenly(i int) string {
	f := &a.steps[i]
	if math.Abs(f.powerW/a.ride.MeanPowerW-1) > evenShare {
		return ""
	}
	return fmt.Sprintf("%s: about the mean power of the ride, %s W%s", a.ground(i), wording.Rounded(a.ride.MeanPowerW, 0), a.change(i))
}

// apart tells the figures where no reason holds.
func (a *explained) apart(i int) string {
	off, way := a.steps[i].powerW-a.ride.MeanPowerW, "above"
	if off < 0 {
		off, way = -off, "below"
	}
	return fmt.Sprintf("%s: %s W %s the mean power of the ride, %s W%s", a.ground(i), wording.Rounded(off, 0), way, wording.Rounded(a.ride.MeanPowerW, 0), a.change(i))
}

// worths tells what a kilojoule is worth here and on the whole.
func (a *explained) worths(i int) string {
	return fmt.Sprintf("%s s here, %s s on the whole course", wording.Rounded(1000*a.steps[i].worth, 1), wording.Rounded(1000*a.worth, 1))
}

// ground tells slope, wind and speed of a step: "7.8 % into the wind at 14 km/h".
func (a *explained) ground(i int) string {
	f := &a.steps[i]
	var words string
	switch pct := 100 * f.gradient; {
	case pct >= slopePct:
		words = wording.Rounded(pct, 1) + " %"
	case pct <= -slopePct:
		words = wording.Rounded(-pct, 1) + " % down"
	default:
		words = "level"
	}
	switch {
	case f.headwindMps >= windMps:
		words += " into the wind"
	case f.headwindMps <= -windMps:
		words += " with the wind"
	}
	return words + " at " + wording.Speed(f.speedMps)
}

// change tells what a step does to the balance of W′, empty for nothing to speak of.
func (a *explained) change(i int) string {
	switch spent := a.steps[i].spentJ(); {
	case spent >= tellingJ:
		return "; spends " + wording.Kilojoules(spent)
	case spent <= -tellingJ:
		return "; recovers " + wording.Kilojoules(-spent)
	}
	return ""
}
