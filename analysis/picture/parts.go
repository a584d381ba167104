package picture

import (
	"math"
	"strconv"

	"parcours.example/analysis/course"
)

// bands shades every other part from the header down to the ground's foot.
func (s *sheet) bands(g *ground, top float64) {
	s.bandsDown(g, top, g.plot.y1+s.partsHeight())
}

// bandsDown shades every other part from a height on the paper down to another.
func (s *sheet) bandsDown(g *ground, top, bottom float64) {
	for i, p := range s.Course.Parts {
		if x0, x1 := g.across(p.StartM, p.EndM); i%2 == 1 && x0 < x1 {
			s.d.fillBox(s.ink.Band, box{x0, top, x1, bottom})
		}
	}
}

// partsHeight is the height of the row of parts, 0 where there is only one.
func (s *sheet) partsHeight() float64 {
	if len(s.Course.Parts) < 2 {
		return 0
	}
	return math.Round(1.6 * s.textPx)
}

// parts names the parts in a row below the ground.
func (s *sheet) parts(g *ground) {
	var edges [][]point
	y := g.plot.y1
	lap := s.lapWords(g)
	for _, p := range s.Course.Parts {
		x0, x1 := g.across(p.StartM, p.EndM)
		if x0 >= x1 {
			continue
		}
		words := lap(p.Lap)
		if p.Kind != course.Lap {
			words = s.endWords(p.Kind, x1-x0)
		}
		if cut := p.StartM < g.fromM || p.EndM > g.toM; cut && !s.fits(words, x1-x0-4) {
			words = ""
		}
		if words != "" {
			s.write(s.ink.Ink, atMiddle, point{(x0 + x1) / 2, y + float64(1.2*s.textPx)}, words)
		}
		if p.StartM > g.fromM {
			edges = append(edges, []point{{x0, y}, {x0, y + s.partsHeight()}})
		}
	}
	s.d.draw(s.ink.Muted, 1, edges...)
}

// lapWords returns how laps are called so that all find room: in full, by their numbers,
// or only every second, fifth, … of them.
func (s *sheet) lapWords(g *ground) func(lap int) string {
	narrowest := g.plot.x1 - g.plot.x0
	for _, p := range s.lapParts() {
		narrowest = min(narrowest, g.x(p.EndM)-g.x(p.StartM))
	}
	number := strconv.Itoa(len(s.lapParts()))
	if s.fits("lap "+number, narrowest-4) {
		return func(lap int) string { return "lap " + strconv.Itoa(lap) }
	}
	every := 1
	for _, every = range [...]int{1, 2, 5, 10, 20, 50, 100} {
		if s.fits(number, narrowest*float64(every)-4) {
			break
		}
	}
	return func(lap int) string {
		if lap%every != 0 {
			return ""
		}
		return strconv.Itoa(lap)
	}
}

// endWords names what is ridden before or after the laps, where it has room.
func (s *sheet) endWords(kind course.PartKind, widthPx float64) string {
	words := map[course.PartKind][]string{course.LeadIn: {"lead-in", "in"}, course.RunOut: {"run-out", "out"}}
	for _, w := range words[kind] {
		if s.fits(w, widthPx-4) {
			return w
		}
	}
	return ""
}
