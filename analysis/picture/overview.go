package picture

import (
	"math"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/wording"
)

// Sizes on the map in px: the coloured line and the line around it, the way from one arrow
// to the next, and the margin around the course.
const (
	wayPx    = 3.6
	casingPx = 6.8
	arrowsPx = 110.0
	marginPx = 26.0
)

// terrainMap brings places along the course onto the paper, north up: the course seen
// straight from above its middle.
type terrainMap struct {
	s         *sheet
	origin    geodesy.Vec
	frame     geodesy.Frame
	perM      float64
	zero      point
	gradientM float64
}

// overview draws the course from above.
func (s *sheet) overview() (*Drawing, error) {
	if !s.Course.HasPositions() {
		return nil, &Error{CodeNoPositions, "The course has no positions, so there is no map of it."}
	}
	top := s.header(s.title(), []string{s.summary()})
	room := box{0, top, float64(s.WidthPx), float64(s.HeightPx)}
	m := s.newMap(room)
	l := s.newLegend(s.mapEntries(m))
	room.y1 -= s.legendHeight(l)
	m = s.newMap(room)
	ways := m.ways()
	m.drawWays(ways)
	p := &placer{bounds: room.grown(float64(-s.padPx/2), 0), sizePx: s.textPx, face: s.face, taken: append(m.taken(ways), s.d.texts()...)}
	p.around(s.d, m.labels())
	s.drawLegend(s.newLegend(s.mapEntries(m)))
	s.d.Title = s.title() + ": map"
	s.d.describe(s.summary()+".", "North is up.", s.listed("Climbs: ", s.climbsTold()), s.listed("Places: ", s.marksTold()), leftOutTold(p.leftOut))
	return s.d, nil
}

// newMap fits the course into a room.
func (s *sheet) newMap(room box) *terrainMap {
	m := &terrainMap{s: s, origin: s.Course.Pos[len(s.Course.Pos)/2], perM: 1}
	m.frame = geodesy.FrameAt(m.origin)
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, pos := range s.Course.Pos {
		p := m.project(pos)
		b = box{min(b.x0, p.x), min(b.y0, p.y), max(b.x1, p.x), max(b.y1, p.y)}
	}
	// A course of no extent is drawn as if it were a metre wide.
	m.perM = min((room.x1-room.x0-2*marginPx)/max(b.x1-b.x0, 1), (room.y1-room.y0-2*marginPx)/max(b.y1-b.y0, 1))
	m.zero = point{
		(room.x0+room.x1)/2 - float64((b.x0+b.x1)/2*m.perM),
		(room.y0+room.y1)/2 - float64((b.y0+b.y1)/2*m.perM),
	}
	m.gradientM = max(gradientWindowM, leastColumns/m.perM)
	return m
}

func (m *terrainMap) project(pos geodesy.Vec) point {
	d := pos.Sub(m.origin)
	return point{m.zero.x + float64(d.Dot(m.frame.East)*m.perM), m.zero.y - float64(d.Dot(m.frame.North)*m.perM)}
}

// at returns the place of a position along the course.
func (m *terrainMap) at(x float64) point {
	c := m.s.Course
	i := c.PieceAt(x)
	f := min(max((x-c.S[i])/(c.S[i+1]-c.S[i]), 0), 1)
	return m.project(c.Pos[i].Lerp(c.Pos[i+1], f))
}

// labels draws the signs of the places of the map and returns their labels.
func (m *terrainMap) labels() []label {
	s := m.s
	labels := m.ends()
	for _, c := range s.Terrain.Climbs {
		if c.ParentID == "" {
			l := s.label([]string{climbName(c) + ", " + s.climbNumbers(c), climbName(c)}, c.EndM, rankClimb, 0)
			l.at = m.at(c.EndM)
			labels = append(labels, l)
		}
	}
	for _, mark := range s.Terrain.Marks {
		if len(mark.Passes) == 0 {
			continue
		}
		at := mark.Passes[0].AtM
		s.sign(mark.Kind, m.at(at), signPx)
		if !s.namesClimb(mark.Name) {
			l := s.label([]string{markName(mark)}, at, markRank(mark.Kind), 0)
			l.at = m.at(at)
			labels = append(labels, l)
		}
	}
	return labels
}

// oneEndPx is how near start and finish share a label.
const oneEndPx = 12

// ends draws the start and the finish and returns their labels.
func (m *terrainMap) ends() []label {
	s := m.s
	start, finish := m.at(0), m.at(s.Course.LengthM())
	for _, p := range []point{start, finish} {
		s.d.fillBox(s.ink.Paper, box{p.x, p.y, p.x, p.y}.grown(6, 6))
		s.d.fillBox(s.ink.Ink, box{p.x, p.y, p.x, p.y}.grown(4.5, 4.5))
	}
	words := []string{"start", "finish"}
	at := []point{start, finish}
	if fromChord(start, finish, finish) < oneEndPx {
		words, at = []string{"start and finish"}, at[:1]
	}
	labels := make([]label, len(words))
	for i := range words {
		labels[i] = s.label([]string{words[i]}, 0, rankClimb, 0)
		labels[i].at = at[i]
	}
	return labels
}

// mapEntries explain colours, scale, direction and signs.
func (s *sheet) mapEntries(m *terrainMap) []entry {
	entries := append(s.gradientEntry(m.gradientM), m.scaleEntry(), s.northEntry())
	return append(entries, s.markEntries(s.kindsOn(0, s.Course.LengthM()))...)
}

// scaleEntry is a bar of a round length. Its room doesn't depend on the scale.
func (m *terrainMap) scaleEntry() entry {
	const mostPx = 110
	s := m.s
	step, decimals := scaleStep(0.4 * mostPx / m.perM / s.Units.LongM())
	long := float64(step * s.Units.LongM() * m.perM)
	words := wording.Rounded(step, decimals) + " " + s.Units.Long()
	return entry{mostPx + s.face.width(" 0.05 "+s.Units.Long(), s.textPx), func(x, y float64) {
		s.d.draw(s.ink.Ink, 1.5, []point{{x, y - 4}, {x, y}, {x + long, y}, {x + long, y - 4}})
		s.write(s.ink.Muted, atStart, point{x + long + 6, y + float64(0.3*s.textPx)}, words)
	}}
}

// northEntry is an arrow to the north.
func (s *sheet) northEntry() entry {
	const words = "north"
	return entry{12 + s.face.width(words, s.textPx), func(x, y float64) {
		s.d.draw(s.ink.Ink, 1.5, []point{{x + 4, y + 5}, {x + 4, y - 6}})
		s.d.fill(s.ink.Ink, []point{{x + 4, y - 9}, {x + 8, y - 2}, {x, y - 2}})
		s.write(s.ink.Muted, atStart, point{x + 12, y + float64(0.3*s.textPx)}, words)
	}}
}
