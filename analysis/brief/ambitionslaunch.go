package brief

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/launch"
)

// LaunchAnswer is where sprints are launched.
type LaunchAnswer struct {
	// Launches stand line by line, of each those of all riders on all set-ups.
	Launches []Launched
	// Setups is how many set-ups there are.
	Setups int
	// Assumed are the maximal powers in W of riders of whom none is known, by rider; NaN for
	// the others.
	AssumedPowerW []float64
}

// Launched is a rider's launch to a line.
type Launched struct {
	// Line is the index of the line in the request.
	Line int
	// Passes are those of the line for which it holds, one at least.
	Passes []Place
	// RiderIndex and SetupIndex count those of the request; Rider and Setup are names,
	// untrusted.
	RiderIndex, SetupIndex int
	Rider, Setup           string
	Approach               launch.Approach
	HeadPowerW             float64
	// Sprint is nil where the rider doesn't get up to the line.
	Sprint *launch.Sprint
	// BendBeforeM is how far before the line, in metres, a bend allows BendSpeedMps alone,
	// less than the sprint reaches; NaN for none.
	BendBeforeM, BendSpeedMps float64
}

// launchLines tells when to launch for a goal, a line for each approach.
func (w teller) launchLines(g goal) [][]said {
	all := w.Launches
	if all == nil {
		return nil
	}
	var lines [][]said
	rest := g.launches
	for len(rest) > 0 {
		n := slices.IndexFunc(rest, func(i int) bool { return !sameApproach(all.Launches[i], all.Launches[rest[0]]) })
		if n < 0 {
			n = len(rest)
		}
		lines = append(lines, w.launches(rest[:n], len(g.launches) > n))
		rest = rest[n:]
	}
	if g.guesses {
		lines = append(lines, []said{{rankLeeway, w.assumedPower()}})
	}
	return lines
}

func sameApproach(a, b Launched) bool { return a.Line == b.Line && slices.Equal(a.Passes, b.Passes) }

// launches tells the launches of several riders from one approach, the soonest first. Where
// a line has several approaches, its passes are told.
func (w teller) launches(of []int, severally bool) []said {
	all := w.Launches.Launches
	order, halted := w.soonest(of)
	label := strong(words("Launch"))
	if severally {
		label = say("{}{}", label, w.launchPasses(all[of[0]]))
	}
	if len(order) == 0 {
		return []said{{rankLaunch, say("{}: nobody gets up to the line.", label)}}
	}
	first := order[0]
	line := []said{{rankLaunch, say("{}: {}{}.", label, w.launchOf(first), w.launchedAfter(first, order[1:], halted))}}
	return append(line,
		said{rankBend, w.bend(order)},
		said{rankLeeway, w.leeway(first)},
		said{rankLeeway, w.againstHead(first)},
	)
}

// soonest orders launches by the time at the line, of each rider the soonest alone; riders
// who get up to the line on no set-up come apart.
func (w teller) soonest(of []int) (order, halted []int) {
	all := w.Launches.Launches
	for _, i := range of {
		if all[i].Sprint == nil {
			halted = append(halted, i)
		} else {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(all[a].Sprint.TimeS, all[b].Sprint.TimeS) })
	told := map[int]bool{}
	again := func(i int) bool {
		is := told[all[i].RiderIndex]
		told[all[i].RiderIndex] = true
		return is
	}
	order = slices.DeleteFunc(order, again)
	return order, slices.DeleteFunc(halted, again)
}

// launchPasses says for which passes a launch holds.
func (w teller) launchPasses(l Launched) phrase {
	first := w.onPass(l.Passes[0])
	if n := len(l.Passes); n > 1 {
		return say("{} and {} more alike", first, w.count(w.placeKey(l.Passes[0])+".alike", n-1))
	}
	return first
}

func launchFact(i int) string { return fmt.Sprintf("launch-%d", i+1) }

// launcher names a rider with the set-up, where there are several.
func (w teller) launcher(i int) phrase {
	l := w.Launches.Launches[i]
	who := w.or(l.Rider, "rider", "rider", l.RiderIndex)
	if w.Launches.Setups > 1 {
		return say("{} on {}", who, w.or(l.Setup, "set-up", "setup", l.SetupIndex))
	}
	return who
}

// nearM is a launch so near that it is none.
const nearM = 1.0

// launchOf tells a launch in full.
func (w teller) launchOf(i int) phrase {
	l, fact := w.Launches.Launches[i], launchFact(i)
	s, who := l.Sprint, w.launcher(i)
	before := w.length(fact+".launch_before_m", s.LaunchM)
	switch {
	case s.LaunchM < nearM:
		return say("{} stays on the wheel, at {}: out of its lee no launch gains anything", who, w.speed(fact+".approach_speed_mps", l.Approach.SpeedMps))
	case s.AtOnce && math.IsNaN(s.LostM):
		return say("{} goes at once, {} before the line or earlier: the wheel, at {}, is too slow to wait on", who, before,
			w.speed(fact+".approach_speed_mps", l.Approach.SpeedMps))
	}
	return say("{} {} before the line, {} from it, {} at {}; {} at the line", who, before, w.seconds(fact+".launch_before_s", s.LaunchS),
		w.wheel(fact, l.Approach.Place), w.speed(fact+".approach_speed_mps", l.Approach.SpeedMps), w.speed(fact+".line_speed_mps", s.LineSpeedMps))
}

// wheel names a place in the line of riders.
func (w teller) wheel(fact string, place int) phrase {
	switch place {
	case 1:
		return words("from the head of the line")
	case 2:
		return words("on second wheel")
	case 3:
		return words("on third wheel")
	case 4:
		return words("on fourth wheel")
	}
	return say("on wheel {}", w.ordinal(fact+".position", place))
}

// levelS is the difference of times below which two launches can't be told apart.
const levelS = 0.01

// launchedAfter tells who comes after the soonest, and who doesn't get there.
func (w teller) launchedAfter(first int, rest, halted []int) phrase {
	all := w.Launches.Launches
	var told []phrase
	for _, i := range rest {
		s, fact := all[i].Sprint, launchFact(i)
		at := say("{} before it", w.length(fact+".launch_before_m", s.LaunchM))
		if s.LaunchM < nearM {
			at = words("on the wheel")
		}
		behind := s.TimeS - all[first].Sprint.TimeS
		if behind < levelS {
			told = append(told, say("{} {} and level", w.launcher(i), at))
		} else {
			told = append(told, say("{} {} and {} later there", w.launcher(i), at, w.seconds(fact+".behind_s", behind)))
		}
	}
	for _, i := range halted {
		told = append(told, say("{} doesn't get up to it", w.launcher(i)))
	}
	if len(told) == 0 {
		return phrase{}
	}
	return say("; {}", w.few(launchFact(first)+".more", told))
}

// bend warns of bends before the line.
func (w teller) bend(order []int) phrase {
	for _, i := range order {
		l, fact := w.Launches.Launches[i], launchFact(i)
		if !math.IsNaN(l.BendBeforeM) {
			return say("A bend {} before the line allows {}, and this sprint reckons with none: look at it first.",
				w.length(fact+".bend_before_m", l.BendBeforeM), w.speed(fact+".bend_speed_mps", l.BendSpeedMps))
		}
	}
	return phrase{}
}

// wideM is the range of launches in metres that leaves a choice.
const wideM = 60.0

// leeway tells how much the place of the launch matters.
func (w teller) leeway(i int) phrase {
	s, fact := w.Launches.Launches[i].Sprint, launchFact(i)
	if s.LaunchM < nearM {
		return phrase{}
	}
	if s.EarliestM-s.LatestM >= wideM {
		return say("Anywhere from {} to {} before the line costs {} at most: the others may decide when.",
			w.length(fact+".earliest_before_m", s.EarliestM), w.length(fact+".latest_before_m", s.LatestM), w.seconds("launch.within_s", launch.FlatS))
	}
	var told []phrase
	for _, o := range s.Offsets {
		side := "early"
		if o.EarlierM < 0 {
			side = "late"
		}
		if math.Abs(o.EarlierM) == 50 {
			told = append(told, say("{} too {} costs {}", w.window(fmt.Sprintf("%s.%s_m", fact, side), math.Abs(o.EarlierM)), words(side),
				w.seconds(fmt.Sprintf("%s.%s_cost_s", fact, side), o.CostS)))
		}
	}
	if told == nil {
		return phrase{}
	}
	return capital(say("{}.", list(told...)))
}

// againstHead tells how a launch stands with the head of the line, had it ridden on.
func (w teller) againstHead(i int) phrase {
	l, fact := w.Launches.Launches[i], launchFact(i)
	s := l.Sprint
	if l.Approach.Place == 1 || math.Abs(s.AheadS) < levelS {
		return phrase{}
	}
	gap := say("{} ({})", w.seconds(fact+".ahead_s", s.AheadS), w.fine(fact+".ahead_m", s.AheadS*s.LineSpeedMps))
	if s.AheadS > 0 {
		return say("That is {} ahead of the head of the line, had it ridden on.", gap)
	}
	return say("The head of the line stays {} ahead if it rides on at {}: at this speed nobody of this power comes past.", gap, w.power(fact+".head_power_w", l.HeadPowerW))
}

// assumedPower tells whose maximal power isn't known.
func (w teller) assumedPower() phrase {
	a := w.Launches
	var told []phrase
	seen := map[int]bool{}
	for _, l := range a.Launches {
		r := l.RiderIndex
		if p := a.AssumedPowerW[r]; !seen[r] && !math.IsNaN(p) {
			seen[r] = true
			told = append(told, say("{} for {}", w.power(fmt.Sprintf("launch.rider-%d.max_power_w", r+1), p), w.or(l.Rider, "rider", "rider", r)))
		}
	}
	if told == nil {
		return phrase{}
	}
	return say("{}: a guess, {}; it moves all launches.", strong(words("Maximal power")), w.few("launch.more", told))
}
