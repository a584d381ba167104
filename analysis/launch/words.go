package launch

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"parcours.example/analysis/wording"
)

// Caution goes with launches on the road.
const Caution = "Hold your line, keep both hands on the bars and look ahead: no time is worth a fall."

// Model says what a launch supposes, in sentences.
func Model() []string {
	return []string{
		"The head of the line of riders is 75 kg and 1.80 m on an all-round road bicycle; it passes the start of the approach at the given speed and keeps to the line the power that holds this speed over the approach on the whole.",
		"The line of riders rides 1.85 m apart; each passes every place at the speed at which the head did.",
		"Following takes W′ where it needs more than critical power, and gives it back below.",
		"From the launch on the rider gives CP + (P_max − CP)·W/W′ (Morton 1996): power decays with W′/(P_max − CP) as time constant. The force at the wheel stays below 0.36 of the weight.",
		"Shelter fades linearly from that of the place in the line to none while the rider comes past the wheel ahead; where a gap opens it fades with the gap, to none at 3 m.",
		"Gravity, rolling resistance, air and wind are those of predictions, piece by piece of the road; bends, brakes and freewheeling are left out.",
		"Nobody blocks the rider, reacts, or comes late off the rider's own wheel: who has such company launches later than told, as far as that costs little.",
	}
}

// Told is a launch with the names that tell it.
type Told struct {
	// Line is the index of the line in the request.
	Line int
	// Passes are the passes of the line for which it holds, in words.
	Passes []string
	// Name is the rider's, with the set-up's where there are several.
	Name     string
	Approach Approach
	Sprint   *Sprint
	Inclines []Incline
	Wheels   []Wheel
}

// Recommend says in one paragraph where to launch and why, line by line; what it says stands
// in the launches too.
func Recommend(told []Told) string {
	var lines []string
	for len(told) > 0 {
		n := slices.IndexFunc(told, func(t Told) bool { return !sameLine(t, told[0]) })
		if n < 0 {
			n = len(told)
		}
		lines = append(lines, line(told[:n]))
		told = told[n:]
	}
	if len(lines) > mostLines {
		lines = append(lines[:mostLines], fmt.Sprintf("%d further lines and passes stand in the launches.", len(lines)-mostLines))
	}
	if len(lines) == 0 {
		return "No rider gets up to a line at this speed."
	}
	return strings.Join(lines, " ")
}

// mostLines bounds the lines in a paragraph.
const mostLines = 4

func sameLine(a, b Told) bool { return a.Line == b.Line && slices.Equal(a.Passes, b.Passes) }

// line tells the launches to one line: the soonest in full, the others by what they are
// behind.
func line(told []Told) string {
	order := slices.Clone(told)
	slices.SortStableFunc(order, func(a, b Told) int { return cmp.Compare(a.Sprint.TimeS, b.Sprint.TimeS) })
	first := order[0]
	parts := []string{first.where()}
	if others := first.others(order[1:]); others != "" {
		parts = append(parts, others)
	}
	for _, sentence := range []string{first.against(), first.cost(), first.steeper(), first.wheel()} {
		if sentence != "" {
			parts = append(parts, sentence)
		}
	}
	return strings.Join(parts, " ")
}

// place names the line with its passes.
func (t Told) place() string {
	switch n := len(t.Passes); n {
	case 1:
		return t.Passes[0]
	default:
		return fmt.Sprintf("%s and %d more with the same approach", t.Passes[0], n-1)
	}
}

// where is the launch itself.
func (t Told) where() string {
	s := t.Sprint
	switch {
	case s.LaunchM < 1:
		return fmt.Sprintf("To %s %s does best to stay on the wheel, which comes at %s: out of its lee no launch gains anything.", t.place(), t.Name, t.pace())
	case s.AtOnce && math.IsNaN(s.LostM):
		return fmt.Sprintf("To %s %s launches as soon as the approach starts, %s before the line: at %s the wheel is so slow that waiting only costs, and from farther away it may be better still.", t.place(), t.Name, wording.Metres(s.LaunchM), t.pace())
	}
	return fmt.Sprintf("To %s %s launches %s before the line, %s from it, behind a wheel at %s; the speed goes up to %s and is %s at the line.",
		t.place(), t.Name, wording.Metres(s.LaunchM), wording.Seconds(s.LaunchS), t.pace(), wording.Speed(s.PeakSpeedMps), wording.Speed(s.LineSpeedMps))
}

// levelRoad is the gradient up to which a road is as good as level.
const levelRoad = 0.005

// pace tells the speed of the approach, and the gradient where there is one.
func (t Told) pace() string {
	speed, gradient := wording.Speed(t.Approach.SpeedMps), t.Approach.MeanGradient()
	if math.Abs(gradient) < levelRoad {
		return speed
	}
	return fmt.Sprintf("%s on %s", speed, wording.Gradient(gradient*100))
}

// levelS is the difference of times in seconds below which two can't be told apart.
const levelS = 0.01

// mostOthers bounds the riders who are told behind the first.
const mostOthers = 3

// others tells who comes after the soonest, and by how much.
func (t Told) others(rest []Told) string {
	var said []string
	for _, o := range rest[:min(len(rest), mostOthers)] {
		behind := o.Sprint.TimeS - t.Sprint.TimeS
		launch := "launching " + wording.Metres(o.Sprint.LaunchM) + " before it"
		if o.Sprint.LaunchM < 1 {
			launch = "staying on the wheel"
		}
		if behind < levelS {
			said = append(said, fmt.Sprintf("%s, %s, can't be told apart", o.Name, launch))
		} else {
			said = append(said, fmt.Sprintf("%s is there %s later, %s", o.Name, late(behind), launch))
		}
	}
	if more := len(rest) - len(said); more > 0 {
		said = append(said, fmt.Sprintf("the last of %d more %s later", more, late(rest[len(rest)-1].Sprint.TimeS-t.Sprint.TimeS)))
	}
	if len(said) == 0 {
		return ""
	}
	return upper(strings.Join(said, "; ")) + "."
}

// late writes a time to a hundredth of a second, long ones shorter.
func late(s float64) string {
	if s < 9.995 {
		return wording.Hundredths(s)
	}
	return wording.Seconds(s)
}

func upper(s string) string {
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

// against tells how it stands with the head of the line of riders.
func (t Told) against() string {
	s := t.Sprint
	gap := fmt.Sprintf("%s (%s)", late(math.Abs(s.AheadS)), wording.ShortLength(s.AheadS*s.LineSpeedMps))
	lost := ""
	if !math.IsNaN(s.LostM) {
		lost = fmt.Sprintf(" The wheel can't be held beyond %s before the line.", wording.Metres(s.LostM))
	}
	switch {
	case t.Approach.Place == 1:
		return fmt.Sprintf("That is %s %s than riding on at the approach's power.", gap, word(s.AheadS > 0, "sooner", "later")) + lost
	case math.Abs(s.AheadS) < levelS:
		return "That is level with the head of the line, had it ridden on." + lost
	case s.AheadS > 0:
		return fmt.Sprintf("That is %s ahead of the head of the line, had it ridden on.", gap) + lost
	}
	return fmt.Sprintf("The head of the line, if it rides on, stays %s ahead: at this speed nobody of this power comes past.", gap) + lost
}

// word chooses between two.
func word(first bool, a, b string) string {
	if first {
		return a
	}
	return b
}

// wideM is the width in metres from which a range of launches leaves a choice.
const wideM = 60.0

// cost tells how much the place of the launch matters.
func (t Told) cost() string {
	s := t.Sprint
	early, later := s.offset(50), s.offset(-50)
	switch {
	case s.EarliestM-s.LatestM >= wideM:
		return fmt.Sprintf("Anywhere from %s to %s before the line costs at most %s, so that the others may decide when.", wording.Metres(s.EarliestM), wording.Metres(s.LatestM), wording.Hundredths(FlatS))
	case !math.IsNaN(early) && !math.IsNaN(later):
		return fmt.Sprintf("The place matters: 50 m too early costs %s, 50 m too late %s.", late(early), late(later))
	case !math.IsNaN(later):
		return fmt.Sprintf("The place matters: 50 m too late costs %s.", late(later))
	case !math.IsNaN(early):
		return fmt.Sprintf("The place matters: 50 m too early costs %s.", late(early))
	}
	return ""
}

// offset returns what it costs in seconds to launch so many metres earlier, NaN where that
// isn't told.
func (s *Sprint) offset(earlierM float64) float64 {
	for _, o := range s.Offsets {
		if o.EarlierM == earlierM {
			return o.CostS
		}
	}
	return math.NaN()
}

// steeperBy is by how much the gradient that is told beside the line's own differs.
const steeperBy = 0.03

// steeper tells the launch where the line would be steeper, or level if it is steep itself.
func (t Told) steeper() string {
	own := t.Approach.MeanGradient()
	i := slices.IndexFunc(t.Inclines, func(i Incline) bool { return i.Gradient >= own+steeperBy })
	if i < 0 {
		i = slices.IndexFunc(t.Inclines, func(i Incline) bool { return i.Gradient == 0 })
	}
	if i < 0 {
		return ""
	}
	other := t.Inclines[i]
	at := fmt.Sprintf("If the line were at %s instead of %s, ", wording.Gradient(other.Gradient*100), wording.Gradient(own*100))
	if other.Best.LaunchM < 1 {
		return at + "it would be best to stay on the wheel."
	}
	return at + fmt.Sprintf("the launch would be at %s.", wording.Metres(other.Best.LaunchM))
}

// wheel tells whether another place in the line of riders would be better.
func (t Told) wheel() string {
	best := -1
	for i, w := range t.Wheels {
		if w.Place != t.Approach.Place && (best < 0 || w.Best.TimeS < t.Wheels[best].Best.TimeS) {
			best = i
		}
	}
	if best < 0 {
		return ""
	}
	w := t.Wheels[best]
	gain := t.Sprint.TimeS - w.Best.TimeS
	switch {
	case math.Abs(gain) < levelS:
		return fmt.Sprintf("From %s it is the same.", ordinal(w.Place))
	case gain > 0:
		return fmt.Sprintf("From %s the line would come %s sooner, with a launch at %s.", ordinal(w.Place), late(gain), wording.Metres(w.Best.LaunchM))
	}
	return fmt.Sprintf("No other of the first places is better: from %s the line comes %s later.", ordinal(w.Place), late(-gain))
}

// ordinal names a place in the line.
func ordinal(place int) string {
	switch place {
	case 1:
		return "the head of the line"
	case 2:
		return "second wheel"
	case 3:
		return "third wheel"
	case 4:
		return "fourth wheel"
	}
	return fmt.Sprintf("place %d", place)
}
