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

// samePlaceM is how near two places share a time.
const samePlaceM = 10

// passages are the places on a ground whose times are told, in order of their rank; of
// several in one place the most important.
func (s *sheet) passages(g *ground) (all []passage) {
	word := "finish"
	if s.Course.LengthM()-g.toM > samePlaceM {
		word = "end"
	}
	found := []passage{{atM: g.toM, word: word, rank: rankFinish}}
	for _, lap := range s.lapParts() {
		found = append(found, passage{atM: lap.EndM, word: "lap " + wording.Count(lap.Lap), rank: rankLapLine})
	}
	found = append(append(found, s.climbPassages()...), s.markPassages()...)
	slices.SortStableFunc(found, func(a, b passage) int { return cmp.Compare(a.rank, b.rank) })
	for _, p := range found {
		near := func(q passage) bool { return math.Abs(p.atM-q.atM) < samePlaceM }
		if p.atM > g.fromM+atStartM && p.atM <= g.toM && !slices.ContainsFunc(all, near) {
			p.clocks = s.clocksAt(p.atM - g.fromM)
			all = append(all, p)
		}
	}
	return all
}

// climbPassages are the feet and the tops of climbs that are no part of another.
func (s *sheet) climbPassages() (found []passage) {
	for _, c := range s.Terrain.Climbs {
		if c.ParentID != "" {
			continue
		}
		for i, p := range c.Passes {
			later := min(i, 1) * rankLater
			found = append(found, passage{atM: p.EndM, word: "top", rank: rankTop + later}, passage{atM: p.StartM, word: "foot", rank: rankFoot + later})
		}
	}
	return found
}

// markPassages are those of sprint lines, timing gates and feeds.
func (s *sheet) markPassages() (found []passage) {
	words := map[track.MarkKind]string{track.Sprint: "sprint", track.Gate: "gate", track.Feed: "feed"}
	for _, m := range s.Terrain.Marks {
		for i, p := range m.Passes {
			if word := words[m.Kind]; word != "" {
				found = append(found, passage{atM: p.AtM, word: word, rank: rankMark + min(i, 1)*rankLater})
			}
		}
	}
	return found
}

// clocksAt are the times of all rides at a position from their start on.
func (s *sheet) clocksAt(m float64) []string {
	clocks := make([]string, len(s.Rides.All))
	for i, r := range s.Rides.All {
		if n := len(r.Trace.DistanceM); n > 1 && m <= r.Trace.DistanceM[n-1]+samePlaceM/100 {
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
func (s *sheet) passageRows(g *ground, places []passage, panels []*panel) (leftOut int) {
	y := g.plot.y1 + s.partsHeight()
	row := func(i int) float64 { return y + float64((1.3+float64(passageLine*float64(i)))*s.textPx) }
	head := s.write(s.ink.Muted, atStart, point{s.padPx, row(0)}, "time at")
	for i := range s.Rides.All {
		s.rideSample(i, s.padPx, row(i+1)-float64(0.35*s.textPx))
	}
	taken := []box{head, {s.padPx, row(0), s.padPx + s.samplePx(), row(len(s.Rides.All))}}
	var kept []passage
	for _, p := range places {
		room := s.passageRoom(g, p, row(0))
		if slices.ContainsFunc(taken, room.meets) {
			leftOut++
			continue
		}
		taken, kept = append(taken, room.grown(s.textPx/2, 0)), append(kept, p)
		middle := (room.x0 + room.x1) / 2
		s.write(s.ink.Muted, atMiddle, point{middle, row(0)}, p.word)
		for i, clock := range p.clocks {
			if clock != "" {
				s.write(s.ink.Ink, atMiddle, point{middle, row(i + 1)}, clock)
			}
		}
	}
	s.passageLines(g, kept, y, panels)
	return leftOut
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
