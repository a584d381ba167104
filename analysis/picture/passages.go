package picture

import (
	"cmp"
	"math"
	"slices"

	"parcours.example/analysis/track"
	"parcours.example/analysis/wording"
)

// passage is a place whose time is told, with a word for it.
type passage struct {
	atM  float64
	word string
	// rank is 0 for the most important.
	rank int
	// series is what it is a later pass of, or laps: of such places so many are told that
	// they follow each other evenly. 0 is none.
	series int
	// clocks are the time of each ride, empty for one that doesn't get there.
	clocks []string
}

// The ranks of passages.
const (
	rankFinish = iota
	rankLapLine
	rankTop
	rankMark
	rankFoot
	rankLater // added for passes after the first
)

const (
	// samePlaceM is how near two places share a time.
	samePlaceM = 10
	// reachedM is how far before a place a ride may end that gets there.
	reachedM = 0.01
)

// passages are the places on a ground whose times may be told, in order of their rank; of
// several in one place the most important. Untried are so many more that paper has no room
// for, as it has for mostLabels labels at most.
func (s *sheet) passages(g *ground) (all []passage, untried int) {
	word := "finish"
	if s.Course.LengthM()-g.toM > samePlaceM {
		word = "end"
	}
	found := []passage{{atM: g.toM, word: word, rank: rankFinish}}
	for _, lap := range s.lapParts() {
		found = append(found, passage{atM: lap.EndM, word: "lap " + wording.Count(lap.Lap), rank: rankLapLine, series: 1})
	}
	found = append(append(found, s.climbPassages()...), s.markPassages()...)
	slices.SortStableFunc(found, func(a, b passage) int { return cmp.Compare(a.rank, b.rank) })
	for _, p := range found {
		near := func(q passage) bool { return math.Abs(p.atM-q.atM) < samePlaceM }
		switch {
		case p.atM <= g.fromM+atStartM || p.atM > g.toM:
		case len(all) == mostLabels:
			untried++
		case !slices.ContainsFunc(all, near):
			p.clocks = s.clocksAt(p.atM - g.fromM)
			all = append(all, p)
		}
	}
	return all, untried
}

// climbPassages are the feet and the tops of climbs that are no part of another.
func (s *sheet) climbPassages() (found []passage) {
	for k, c := range s.Terrain.Climbs {
		if c.ParentID != "" {
			continue
		}
		for i, p := range c.Passes {
			found = append(found, nthPass(i, k, passage{atM: p.EndM, word: "top", rank: rankTop}), nthPass(i, k, passage{atM: p.StartM, word: "foot", rank: rankFoot}))
		}
	}
	return found
}

// markPassages are those of sprint lines, timing gates and feeds.
func (s *sheet) markPassages() (found []passage) {
	words := map[track.MarkKind]string{track.Sprint: "sprint", track.Gate: "gate", track.Feed: "feed"}
	for k, m := range s.Terrain.Marks {
		for i, p := range m.Passes {
			if word := words[m.Kind]; word != "" {
				found = append(found, nthPass(i, k, passage{atM: p.AtM, word: word, rank: rankMark}))
			}
		}
	}
	return found
}

// nthPass makes a place that of the n-th pass, from 0, of the k-th thing of its kind.
func nthPass(n, k int, p passage) passage {
	if n > 0 {
		p.rank += rankLater
		p.series = 2 + k
	}
	return p
}

// clocksAt are the times of all rides at a position from their start on.
func (s *sheet) clocksAt(m float64) []string {
	clocks := make([]string, len(s.Rides.All))
	for i, r := range s.Rides.All {
		if n := len(r.Trace.DistanceM); n > 1 && m <= r.Trace.DistanceM[n-1]+reachedM {
			clocks[i] = wording.Clock(timeAt(r.Trace, m))
		}
	}
	return clocks
}

// passageLine is the height of a row of times in sizes of text.
const passageLine = 1.35

// passagesHeight is the height of the rows of times: the words, and a row for each ride.
func (s *sheet) passagesHeight() float64 {
	return math.Round((float64(passageLine*float64(1+len(s.Rides.All))) + 0.7) * s.textPx)
}

// passageRows writes the times at as many places as have room, with a line through the
// ground and the panels at each, and returns how many have none.
func (s *sheet) passageRows(g *ground, panels []*panel) (leftOut int) {
	places, untried := s.passages(g)
	y := g.plot.y1 + s.partsHeight()
	row := func(i int) float64 { return y + float64((1.3+float64(passageLine*float64(i)))*s.textPx) }
	head := s.write(s.ink.Muted, atStart, point{s.padPx, row(0)}, "time at")
	for i := range s.Rides.All {
		s.rideSample(i, s.padPx, row(i+1)-float64(0.35*s.textPx))
	}
	heads := box{s.padPx, row(0), max(head.x1, s.padPx+s.samplePx()), row(len(s.Rides.All))}.grown(float64(s.textPx/2), s.textPx)
	kept := s.choose(places, heads, func(p passage) box { return s.passageRoom(g, p, row(0)) })
	for _, p := range kept {
		room := s.passageRoom(g, p, row(0))
		middle := (room.x0 + room.x1) / 2
		s.write(s.ink.Muted, atMiddle, point{middle, row(0)}, p.word)
		for i, clock := range p.clocks {
			if clock != "" {
				s.write(s.ink.Ink, atMiddle, point{middle, row(i + 1)}, clock)
			}
		}
	}
	s.passageLines(g, kept, y, panels)
	return untried + len(places) - len(kept)
}

// choose picks the places that have room beside what is taken and each other, the most
// important first; of a series all, or every second, fifth, … of it, or none.
func (s *sheet) choose(places []passage, taken box, room func(passage) box) (kept []passage) {
	all := []box{taken}
	fits := func(some []passage) bool {
		return !slices.ContainsFunc(some, func(p passage) bool { return slices.ContainsFunc(all, room(p).meets) })
	}
	for len(places) > 0 {
		n := 1
		for n < len(places) && places[0].series > 0 && places[n].series == places[0].series && places[n].rank == places[0].rank {
			n++
		}
		some := s.evenly(places[:n], fits, room)
		for _, p := range some {
			all = append(all, room(p).grown(float64(s.textPx/2), 0))
		}
		kept, places = append(kept, some...), places[n:]
	}
	return kept
}

// evenly returns as many places of a series as fit and have room beside each other.
func (s *sheet) evenly(series []passage, fits func([]passage) bool, room func(passage) box) []passage {
	for _, every := range [...]int{1, 2, 5, 10, 20, 50, 100} {
		var some []passage
		for i := every - 1; i < len(series); i += every {
			some = append(some, series[i])
		}
		apart := true
		for i := 1; i < len(some); i++ {
			apart = apart && !room(some[i]).meets(room(some[i-1]).grown(float64(s.textPx/2), 0))
		}
		if len(some) == 0 || apart && fits(some) {
			return some
		}
	}
	return nil
}

// passageRoom is the room of a place's column of words whose first line is at y.
func (s *sheet) passageRoom(g *ground, p passage, y float64) box {
	width := s.face.width(p.word, s.textPx)
	for _, clock := range p.clocks {
		width = max(width, s.face.width(clock, s.textPx))
	}
	width++ // for rounding of the widths
	left := min(g.x(p.atM)-width/2, float64(s.WidthPx)-s.padPx/2-width)
	bottom := y + float64((descentShare+float64(passageLine*float64(len(p.clocks))))*s.textPx)
	return box{left, y - float64(ascentShare*s.textPx), left + width, bottom}
}

// passageLines lead from places on the ground through the plots.
func (s *sheet) passageLines(g *ground, places []passage, y float64, panels []*panel) {
	var slits, ticks, guides [][]point
	for _, p := range places {
		x := g.x(p.atM)
		slits = append(slits, []point{g.on(p.atM), {x, g.plot.y1}})
		ticks = append(ticks, []point{{x, y}, {x, y + 4}})
		for _, q := range panels {
			guides = append(guides, []point{{x, q.plot.y0}, {x, q.plot.y1}})
		}
	}
	s.d.draw(s.ink.Paper, 1, slits...)
	s.d.draw(s.ink.Faint, 1, guides...)
	s.d.draw(s.ink.Muted, 1, ticks...)
	s.d.draw(s.ink.Muted, 1, []point{{g.plot.x0, y}, {g.plot.x1, y}})
}

// samplePx is the length of a sample of a ride's line.
func (s *sheet) samplePx() float64 { return math.Round(2.2 * s.textPx) }

// rideSample draws a piece of a ride's line from a place on.
func (s *sheet) rideSample(i int, x, y float64) {
	s.d.drawDashed(s.ink.Lines[i], linePx, pattern(i), []point{{x, y}, {x + s.samplePx(), y}})
}
