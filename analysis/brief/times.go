package brief

import (
	"fmt"
	"math"
	"sort"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
)

// closeTimes is the ratio up to which predicted times are told as close to each
// other: below what such predictions are good for.
const closeTimes = 1.005

// timesLead sums the predictions up in the opening paragraph.
func (w writer) timesLead() phrase {
	finishers := w.finishers()
	if len(finishers) == 0 {
		return phrase{}
	}
	first, last := finishers[0], finishers[len(finishers)-1]
	quick := w.clock(rideFact(first)+".time_s", w.in.Rides[first].TimeS)
	slow := w.clock(rideFact(last)+".time_s", w.in.Rides[last].TimeS)
	switch {
	case first == last:
		return say("Predicted for {}: {}{}.", w.who(first), w.rideFigures(first), w.beyond(first))
	case w.in.Rides[last].TimeS <= closeTimes*w.in.Rides[first].TimeS:
		return say("Predicted: all close to {}.", quick)
	case len(finishers) == 2:
		return say("Predicted: {} ({}{}), {} ({}{}).", quick, w.who(first), w.beyond(first), slow, w.who(last), w.beyond(last))
	}
	return say("Predicted: {} ({}{}) to {} ({}{}).", quick, w.who(first), w.beyond(first), slow, w.who(last), w.beyond(last))
}

// beyond adds that an effort is more than the rider has, so that its time is never read
// without.
func (w writer) beyond(i int) phrase {
	if math.IsNaN(w.in.Rides[i].RunsDryAtM) {
		return phrase{}
	}
	return words("; more than the rider has")
}

// finishers are the rides that come to the line, the fastest first.
func (w writer) finishers() []int {
	var all []int
	for i, r := range w.in.Rides {
		if !r.CannotClimb && !math.IsNaN(r.TimeS) {
			all = append(all, i)
		}
	}
	sort.SliceStable(all, func(a, b int) bool { return w.in.Rides[all[a]].TimeS < w.in.Rides[all[b]].TimeS })
	return all
}

func rideFact(i int) string { return fmt.Sprintf("prediction-%d", i+1) }

// atPower adds a ride's mean power where it is known.
func (w writer) atPower(i int) phrase {
	p := w.in.Rides[i].MeanPowerW
	if math.IsNaN(p) {
		return phrase{}
	}
	return say(" at {}", w.power(rideFact(i)+".mean_power_w", p))
}

// who names the rider, and the set-up where there are several.
func (w writer) who(i int) phrase {
	r := w.in.Rides[i]
	rider := name(r.Rider)
	switch {
	case !rider.empty():
	case !math.IsNaN(r.MassKg) && r.MassKg > 0:
		rider = say("a rider of {}", w.mass(rideFact(i)+".mass_kg", r.MassKg))
	default:
		rider = say("rider {}", w.ordinal(rideFact(i)+".number", i+1))
	}
	if setup := name(r.Setup); !setup.empty() && !w.oneSetup() {
		return say("{}, {}", rider, setup)
	}
	return rider
}

// oneSetup reports whether all rides are on the same set-up.
func (w writer) oneSetup() bool {
	for _, r := range w.in.Rides {
		if r.Setup != w.in.Rides[0].Setup {
			return false
		}
	}
	return true
}

// predictions tells every prediction.
func (w writer) predictions() block {
	var lines [][]said
	for i := range w.in.Rides {
		lines = append(lines, w.prediction(i))
	}
	lines = append(lines, []said{{rankFood, w.food()}})
	return bullets("Predicted times", lines...)
}

// prediction tells one prediction; of the only one the opening has told the figures.
func (w writer) prediction(i int) []said {
	var line []said
	switch {
	case w.in.Rides[i].CannotClimb:
		line = []said{{rankTimes, say("{}.", w.halt(i))}}
	case len(w.finishers()) > 1:
		line = []said{{rankTimes, say("{}.", w.rideFigures(i))}}
	}
	line = spoken([][]said{append(line, said{rankTimes, w.runsDry(i)}, said{rankTimes, w.paced(i)}, said{rankBand, w.band(i)},
		said{rankSplits, w.keyTimes(i)}, said{rankSplits, w.lapTimes(i)}, said{rankClocks, w.clocks(i)})})[0]
	if len(line) > 0 {
		line[0].phrase = say("{}: {}", strong(capital(w.who(i))), line[0].phrase)
	}
	return line
}

func (w writer) rideFigures(i int) phrase {
	r, fact := w.in.Rides[i], rideFact(i)
	return say("{}{}, {}", w.clock(fact+".time_s", r.TimeS), w.atPower(i), w.speed(fact+".mean_speed_mps", r.MeanSpeedMps))
}

// halt tells that a rider can't get up the course.
func (w writer) halt(i int) phrase {
	if math.IsNaN(w.in.Rides[i].StopsAtM) {
		return words("comes to a halt on a climb at this effort")
	}
	return say("comes to a halt {} at this effort", w.at(rideFact(i)+".stops_at_m", w.in.Rides[i].StopsAtM))
}

// runsDry says in plain words that an effort is beyond the rider.
func (w writer) runsDry(i int) phrase {
	at := w.in.Rides[i].RunsDryAtM
	if math.IsNaN(at) {
		return phrase{}
	}
	return say("It is more than the rider has: W′ runs dry {}.", w.at(rideFact(i)+".runs_dry_at_m", at))
}

// keyTimes tells the times on the climb that decides.
func (w writer) keyTimes(i int) phrase {
	key := w.key()
	times := w.in.Rides[i].ClimbTimesS
	if key < 0 || key >= len(times) || w.in.Terrain.Climbs[key].LengthM() > w.in.Course.LengthM()-2*atEndM {
		return phrase{}
	}
	told := w.clockList(fmt.Sprintf("%s.%s", rideFact(i), w.in.Terrain.Climbs[key].ID), times[key])
	if told.empty() {
		return phrase{}
	}
	return capital(say("{} in {}.", w.climbName(key), told))
}

// clockList lists times, or their range where they are many.
func (w writer) clockList(fact string, times []float64) phrase {
	var told []phrase
	low, high := -1, -1
	for i, t := range times {
		if math.IsNaN(t) {
			continue
		}
		told = append(told, w.clock(fmt.Sprintf("%s.pass-%d.time_s", fact, i+1), t))
		if low < 0 || t < times[low] {
			low = i
		}
		if high < 0 || t > times[high] {
			high = i
		}
	}
	if len(told) <= mostInFull {
		return list(told...)
	}
	quick, slow := w.clock(fact+".shortest_s", times[low]), w.clock(fact+".longest_s", times[high])
	if quick.text == slow.text {
		return say("{} each time", quick)
	}
	return say("{} to {}", quick, slow)
}

// lapTimes tells the mean time of the laps.
func (w writer) lapTimes(i int) phrase {
	sum, n := 0.0, 0
	for k, p := range w.in.Course.Parts {
		if times := w.in.Rides[i].PartTimesS; p.Kind == course.Lap && k < len(times) && !math.IsNaN(times[k]) {
			sum, n = sum+times[k], n+1
		}
	}
	if n < 2 {
		return phrase{}
	}
	return say("Laps take {} on average.", w.clock(rideFact(i)+".mean_lap_s", sum/float64(n)))
}

// onlyAtFinish reports whether a mark is nothing but the line.
func (w writer) onlyAtFinish(m terrain.Mark) bool {
	return len(m.Passes) == 1 && m.Passes[0].ToFinishM < atEndM
}

// clocks tells the clock at sprint lines and summits with few passes.
func (w writer) clocks(i int) phrase {
	var told []phrase
	for k, m := range w.in.Terrain.Marks {
		clocks := w.in.Rides[i].MarkClocksS
		if k >= len(clocks) || len(clocks[k]) > mostInFull || w.onlyAtFinish(m) || m.Kind != track.Sprint && m.Kind != track.Summit {
			continue
		}
		if p := w.clockList(fmt.Sprintf("%s.%s", rideFact(i), m.ID), clocks[k]); !p.empty() {
			told = append(told, say("{} {}", w.markName(k), p))
		}
	}
	if len(told) == 0 {
		return phrase{}
	}
	return say("On the clock: {}.", join("; ", told...))
}
