package ridden

import (
	"math"
	"slices"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
)

// xy is a place in the level plane at the middle of a course, in metres. The plane only
// serves to find the nearest place of the course: 100 km from its middle it shows lengths
// too short by 10⁻⁴, of the road and of the ride alike.
type xy struct{ x, y float64 }

func (p xy) sub(q xy) xy        { return xy{p.x - q.x, p.y - q.y} }
func (p xy) dot(q xy) float64   { return float64(p.x*q.x) + float64(p.y*q.y) }
func (p xy) norm() float64      { return math.Sqrt(p.dot(p)) }
func (p xy) scale(f float64) xy { return xy{float64(p.x * f), float64(p.y * f)} }
func (p xy) add(q xy) xy        { return xy{p.x + q.x, p.y + q.y} }
func (p xy) towards(q xy) float64 { // the cosine of the angle between them, 0 for none
	if n := p.norm() * q.norm(); n > 0 {
		return p.dot(q) / n
	}
	return 0
}

// beyondM is how far in metres the line goes straight on before the start and after the
// finish, so that it can be seen when they are crossed.
const beyondM = 60.0

// line is a course in the plane.
type line struct {
	origin geodesy.Vec
	frame  geodesy.Frame
	// s are the distances of the nodes along the course, those of the ends beyond it;
	// node the nodes.
	s    []float64
	node []xy
	// cells holds the pieces by the cells that they run through.
	cells map[[2]int32][]int32
}

// newLine lays a course with positions into the plane.
func newLine(c *course.Course) *line {
	middle := c.Pos[len(c.Pos)/2]
	l := &line{origin: middle, frame: geodesy.FrameAt(middle), cells: map[[2]int32][]int32{}}
	n := len(c.S)
	l.s = make([]float64, 0, n+2)
	l.node = make([]xy, 0, n+2)
	first, last := l.of(c.Pos[0]), l.of(c.Pos[n-1])
	l.append(-beyondM, first.add(unit(first.sub(l.of(c.Pos[1]))).scale(beyondM)))
	for i, s := range c.S {
		l.append(s, l.of(c.Pos[i]))
	}
	l.append(c.LengthM()+beyondM, last.add(unit(last.sub(l.of(c.Pos[n-2]))).scale(beyondM)))
	for i := range l.node[1:] {
		l.enter(int32(i))
	}
	return l
}

func (l *line) append(s float64, p xy) { l.s, l.node = append(l.s, s), append(l.node, p) }

// unit is the vector of length 1 in a direction; the zero vector has none.
func unit(p xy) xy {
	if n := p.norm(); n > 0 {
		return p.scale(1 / n)
	}
	return xy{}
}

// of returns a position in the plane.
func (l *line) of(v geodesy.Vec) xy {
	d := v.Sub(l.origin)
	return xy{d.Dot(l.frame.East), d.Dot(l.frame.North)}
}

// cellM is the width of a cell in metres, and how far a ride is looked for beside the
// course.
const cellM = 50.0

func cellOf(p xy) [2]int32 {
	return [2]int32{int32(math.Floor(p.x / cellM)), int32(math.Floor(p.y / cellM))}
}

// enter notes a piece in each cell that it runs through, give or take a corner.
func (l *line) enter(piece int32) {
	a, b := l.node[piece], l.node[piece+1]
	way := b.sub(a)
	n := int(math.Ceil(way.norm() / (cellM / 2)))
	for k := range n + 1 {
		cell := cellOf(a.add(way.scale(float64(k) / float64(max(n, 1)))))
		if in := l.cells[cell]; len(in) == 0 || in[len(in)-1] != piece {
			l.cells[cell] = append(in, piece)
		}
	}
}

// place is a place of the course beside a position.
type place struct {
	// atM is the distance along the course, offM that of the position from it.
	atM, offM float64
	piece     int32
}

// onto returns the place of a piece nearest to a position.
func (l *line) onto(piece int32, p xy) place {
	a := l.node[piece]
	way := l.node[piece+1].sub(a)
	f := 0.0
	if square := way.dot(way); square > 0 {
		f = min(max(p.sub(a).dot(way)/square, 0), 1)
	}
	return place{
		atM:  l.s[piece] + float64(f*(l.s[piece+1]-l.s[piece])),
		offM: p.sub(a.add(way.scale(f))).norm(), piece: piece,
	}
}

// direction is that of a piece.
func (l *line) direction(piece int32) xy { return l.node[piece+1].sub(l.node[piece]) }

// mostPlaces bounds the places beside a position: more than the most laps of a course.
const mostPlaces = 256

// around returns, in course order, the places within cellM of a position at which the
// course comes nearest to it. The slices are reused.
func (l *line) around(p xy, pieces []int32, places []place) ([]int32, []place) {
	pieces, places = pieces[:0], places[:0]
	c := cellOf(p)
	for x := c[0] - 1; x <= c[0]+1; x++ {
		for y := c[1] - 1; y <= c[1]+1; y++ {
			pieces = append(pieces, l.cells[[2]int32{x, y}]...)
		}
	}
	slices.Sort(pieces)
	pieces = slices.Compact(pieces)
	before := place{piece: -2, offM: math.Inf(1)}
	falling := true // towards the position, along the pieces
	for _, piece := range pieces {
		at := l.onto(piece, p)
		if piece != before.piece+1 {
			places = appendNear(places, before, falling)
			falling = true
		} else if at.offM >= before.offM {
			places = appendNear(places, before, falling)
			falling = false
		} else {
			falling = true
		}
		before = at
	}
	places = appendNear(places, before, falling)
	return pieces, places[:min(len(places), mostPlaces)]
}

// appendNear adds a place up to which the course came nearer, if it is near enough.
func appendNear(places []place, p place, falling bool) []place {
	if falling && p.offM <= cellM {
		return append(places, p)
	}
	return places
}

// likelyM is the spread of a place along the course about where it is expected between two
// anchors, seenM that of a position beside the course: where the course turns back on
// itself, the place nearest to a position may be on the way out or on the way back.
const likelyM, seenM = 10.0, 5.0

// near returns the place of a position on the course that is likeliest when it is
// expected at a distance along it, no farther than backM from the stretch between two.
func (l *line) near(p xy, expectedM, fromM, toM float64) place {
	fromM, toM = fromM-backM, toM+backM
	i, _ := slices.BinarySearch(l.s, fromM)
	best, least := place{offM: math.Inf(1)}, math.Inf(1)
	for k := max(i-1, 0); k < len(l.s)-1 && (l.s[k] <= toM || math.IsInf(least, 1)); k++ {
		at := l.onto(int32(k), p)
		at.atM = min(max(at.atM, fromM), toM)
		beside, along := at.offM/seenM, (at.atM-expectedM)/likelyM
		if cost := float64(beside*beside) + float64(along*along); cost < least {
			best, least = at, cost
		}
	}
	return best
}
