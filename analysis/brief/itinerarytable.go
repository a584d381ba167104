package brief

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"parcours.example/analysis/itinerary"
)

const (
	// tableColumns is how wide a table may be so that a phone still shows it, leastPlace
	// what of it the words for the place need at least.
	tableColumns = 72
	leastPlace   = 20
	// mostClocks is the most columns of clocks.
	mostClocks = 3
)

// itinerary is the section of the itinerary, empty without one: a table of whole rows,
// which is as wide whatever rows are left out. All passes of a place are left out or none,
// so that none seems not to be ridden.
func (w writer) itinerary() block {
	t := w.in.Itinerary
	if t == nil {
		return block{}
	}
	s := newSheet(w, t)
	b := block{kind: tabled, heading: words("Itinerary"), intro: w.introduction(t, s.clocks), head: s.head(w, t)}
	for i, c := range w.rows {
		main := w.mainThing(t.Rows[i])
		b.lines = append(b.lines, []said{{w.thingRank(main), s.row(c)}})
		b.groups = append(b.groups, groupOf(main))
	}
	return b
}

// sheet is how wide the columns of a table are, 0 for one that is left out.
type sheet struct {
	covered, toGo, level, lap int
	// clock is the width of each of the first columns of clocks.
	clock  int
	clocks int
	place  int
}

// newSheet measures the rows. Columns of clocks that leave no room for the places are
// left out from the end.
func newSheet(w writer, t *itinerary.Table) sheet {
	s := sheet{covered: len(w.longUnit()), toGo: len(toGoHead), clocks: min(len(t.Columns), mostClocks)}
	for _, c := range w.rows {
		s.covered, s.toGo = max(s.covered, columns(c.covered.text)), max(s.toGo, columns(c.toGo.text))
		if !c.level.empty() {
			s.level = max(s.level, len(w.units().Short()), columns(c.level.text))
		}
		if !c.lap.empty() {
			s.lap = max(s.lap, len(lapHead), columns(c.lap.text))
		}
		for k := range s.clocks {
			s.clock = max(s.clock, columns(w.columnHead(t, k).text), columns(c.clocks[k].text))
		}
	}
	for {
		s.place = tableColumns - s.covered - s.toGo - s.level - s.lap - s.clocks*(s.clock+1) - 4
		if s.place >= leastPlace || s.clocks < 2 {
			return s
		}
		s.clocks--
	}
}

// The heads of columns.
const toGoHead, lapHead = "to go", "lap"

// head is the line above the rows.
func (s sheet) head(w writer, t *itinerary.Table) phrase {
	c := rowWords{covered: words(w.longUnit()), toGo: words(toGoHead), level: words(w.units().Short()), lap: words(lapHead)}
	for k := range s.clocks {
		c.clocks = append(c.clocks, w.columnHead(t, k))
	}
	return say("{} place", s.numbers(c))
}

// row sets one row: its numbers, then what is there, on further lines where one doesn't
// hold it.
func (s sheet) row(c rowWords) phrase {
	numbers := s.numbers(c)
	indent := words("\n" + strings.Repeat(" ", columns(numbers.text)+1))
	out, used := say("{} ", numbers), 0
	for i, thing := range condensed(c.things) {
		p := thing.within(s.place)
		wide := columns(p.text)
		switch {
		case i == 0:
			used = wide
		case used+2+wide <= s.place:
			out, used = join("", out, words(", ")), used+2+wide
		default:
			out, used = join("", out, indent), wide
		}
		out = join("", out, p)
	}
	return out
}

// condensed names a top and the summit of its name, where both are on one row, once.
func condensed(things []thingWords) []thingWords {
	var out []thingWords
	for _, t := range things {
		top := slices.IndexFunc(out, func(o thingWords) bool {
			return o.kind == itinerary.Top && t.kind == itinerary.Summit && o.place.text == t.place.text
		})
		if top >= 0 {
			out[top].after = t.after
			continue
		}
		out = append(out, t)
	}
	return out
}

// numbers sets the columns before the place, each to the right.
func (s sheet) numbers(c rowWords) phrase {
	cells := []phrase{right(c.covered, s.covered), right(c.toGo, s.toGo)}
	if s.level > 0 {
		cells = append(cells, right(c.level, s.level))
	}
	if s.lap > 0 {
		cells = append(cells, right(c.lap, s.lap))
	}
	for _, clock := range c.clocks[:s.clocks] {
		cells = append(cells, right(clock, s.clock))
	}
	return join(" ", cells...)
}

// right sets a phrase to the right of a column.
func right(p phrase, wide int) phrase {
	return join("", words(strings.Repeat(" ", max(wide-columns(p.text), 0))), p)
}

// columnHead is a speed without its unit, or a rider's letter.
func (w writer) columnHead(t *itinerary.Table, k int) phrase {
	if speed := t.Columns[k].SpeedMps; !math.IsNaN(speed) {
		return number(columnFact(k)+".speed_mps", speed, w.units().Pace(speed))
	}
	return words(letter(t, k))
}

func columnFact(k int) string { return fmt.Sprintf("itinerary.column-%d", k+1) }

// letter stands for the rider of a column; the first one's is A.
func letter(t *itinerary.Table, k int) string {
	before := rune(0)
	for _, c := range t.Columns[:k] {
		if math.IsNaN(c.SpeedMps) {
			before++
		}
	}
	return string('A' + before)
}

// introduction says what the clocks are, of the columns that are shown.
func (w writer) introduction(t *itinerary.Table, shown int) phrase {
	var speeds, riders, told []phrase
	for k, c := range t.Columns[:shown] {
		if math.IsNaN(c.SpeedMps) {
			riders = append(riders, say("{} is {}", words(letter(t, k)), w.rides(t, c.Rider, c.Setup)))
		} else {
			speeds = append(speeds, w.columnHead(t, k))
		}
	}
	if len(speeds) > 0 {
		told = append(told, say("Times at {} {}.", list(speeds...), words(w.perHour())))
	}
	if len(riders) > 0 {
		told = append(told, say("{}.", join("; ", riders...)))
	}
	if t.Ordinary != nil {
		told = append(told, w.chosen(t))
	}
	if t.Neutral.TimeS > 0 {
		told = append(told, say("The neutral stretch takes {}.", w.clock("itinerary.neutral_s", t.Neutral.TimeS)))
	}
	if left := len(t.Columns) - shown; left > 0 {
		told = append(told, capital(say("{} further {} find no room here.", w.count("itinerary.columns_left_out", left), plural("column", left))))
	}
	return join(" ", told...)
}

// perHour is the unit that Pace leaves out.
func (w writer) perHour() string {
	if w.imperial {
		return "mph"
	}
	return "km/h"
}

// mainThing is the thing on a row that matters most.
func (w writer) mainThing(r itinerary.Row) itinerary.Thing {
	return slices.MinFunc(r.Things, func(a, b itinerary.Thing) int { return cmp.Compare(w.thingRank(a), w.thingRank(b)) })
}

// groupOf is the number, above 0, of the place that a thing is a pass of.
func groupOf(t itinerary.Thing) int {
	switch t.Kind {
	case itinerary.Start, itinerary.Finish:
		return 1
	}
	return 2 + t.Index
}

func (w writer) thingRank(t itinerary.Thing) int {
	switch t.Kind {
	case itinerary.Start, itinerary.Finish:
		return rankKeyPasses
	case itinerary.Foot, itinerary.Top:
		if t.Index == w.key() {
			return rankKeyPasses
		}
		return rankClimbPasses
	case itinerary.Sprint:
		return rankSprint
	case itinerary.Summit:
		return rankSummit
	case itinerary.Gate:
		return rankGate
	case itinerary.RacingBegins, itinerary.Lap, itinerary.RunOut:
		return rankPart
	case itinerary.Feed:
		return rankFeed
	case itinerary.OtherLap:
		return rankLapStarts
	case itinerary.Other:
		return rankOther
	}
	return rankClocks
}
