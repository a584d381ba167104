package picture

import (
	"math"

	"parcours.example/analysis/colour"
	"parcours.example/analysis/course"
)

// ground is a stretch of a course's profile, in columns of a pixel.
type ground struct {
	plot box
	// fromM and toM are the ends of the stretch, lowM and highM those of the scale of
	// heights.
	fromM, toM, lowM, highM float64
	// z holds the elevation in metres at each column's edge, ridge its place, steps the
	// step of gradient of each column.
	z     []float64
	ridge []point
	steps []int
	// overM is the length that the gradient of a column is taken over.
	overM float64
}

// Heights are drawn over a range of at least so many metres, or so much of the stretch
// where that is less, and with a share of the range free below: flat ground stays flat, a
// short ramp stays steep, and the lowest place has a colour.
const (
	leastRangeM     = 40.0
	leastRangeShare = 0.02
	footShare       = 0.06
)

// leastColumns is the least width in px that a gradient is taken over.
const leastColumns = 8

// newGround takes the course from one place to another between two columns; rise gives it
// its height. windowM is the least length that gradients are taken over; they are taken
// over leastColumns at least, so that colours are no speckle.
func newGround(c *course.Course, x0, x1, fromM, toM, windowM float64) *ground {
	n := max(int(x1-x0), 1)
	g := &ground{plot: box{x0: x0, x1: x1}, fromM: fromM, toM: toM, z: make([]float64, n+1)}
	columnM := (toM - fromM) / float64(n)
	g.overM = max(windowM, leastColumns*columnM)
	g.lowM, g.highM = math.Inf(1), math.Inf(-1)
	for i := range g.z {
		g.z[i] = c.ElevationAt(fromM + float64(columnM*float64(i)))
		g.include(g.z[i])
		if i > 0 {
			middle := fromM + float64(columnM*(float64(i)-0.5))
			g.steps = append(g.steps, colour.Step(gradientPct(c, middle, g.overM)))
		}
	}
	return g
}

// include widens the scale of heights to an elevation in metres.
func (g *ground) include(z float64) { g.lowM, g.highM = min(g.lowM, z), max(g.highM, z) }

// settle leaves room below the lowest place, and makes flat ground look flat.
func (g *ground) settle() {
	span := max(g.highM-g.lowM, min(leastRangeM, leastRangeShare*(g.toM-g.fromM)))
	g.lowM -= float64(footShare * span)
	g.highM = max(g.highM, g.lowM+span)
}

// rise puts the ridge between two heights on the paper.
func (g *ground) rise(y0, y1 float64) {
	g.plot.y0, g.plot.y1 = y0, y1
	g.ridge = g.ridge[:0]
	for i, z := range g.z {
		x := g.plot.x0 + float64((g.plot.x1-g.plot.x0)*float64(i)/float64(len(g.steps)))
		g.ridge = append(g.ridge, point{x, g.y(z)}.tenths())
	}
}

// gradientPct is the mean gradient in per cent over a length around a place, cut at the
// course's ends.
func gradientPct(c *course.Course, at, over float64) float64 {
	from, to := max(at-float64(over/2), 0), min(at+float64(over/2), c.LengthM())
	if to <= from {
		return 0
	}
	// A gradient that is an edge but for rounding belongs above it.
	return 100*(c.ElevationAt(to)-c.ElevationAt(from))/(to-from) + 1e-9
}

func (g *ground) x(m float64) float64 {
	return g.plot.x0 + float64((m-g.fromM)/(g.toM-g.fromM)*(g.plot.x1-g.plot.x0))
}

// across returns where a part of the course begins and ends on the paper, as far as it is
// on the ground; the end isn't after the beginning where none of it is.
func (g *ground) across(startM, endM float64) (x0, x1 float64) {
	return g.x(max(startM, g.fromM)), g.x(min(endM, g.toM))
}

func (g *ground) y(elevationM float64) float64 {
	return g.plot.y1 - float64((elevationM-g.lowM)/(g.highM-g.lowM)*(g.plot.y1-g.plot.y0))
}

// exaggeration is how many times higher than long a metre is drawn.
func (g *ground) exaggeration() float64 {
	return (g.plot.y1 - g.plot.y0) / (g.highM - g.lowM) * (g.toM - g.fromM) / (g.plot.x1 - g.plot.x0)
}

// top returns the highest place of the ridge between two places, as y.
func (g *ground) top(x0, x1 float64) float64 {
	y := g.plot.y1
	for i := g.column(x0); i <= g.column(x1); i++ {
		y = min(y, g.ridge[i].y)
	}
	return y
}

// column returns the index of the ridge's point at or before a place.
func (g *ground) column(x float64) int {
	f := (x - g.plot.x0) / (g.plot.x1 - g.plot.x0) * float64(len(g.steps))
	return min(max(int(f), 0), len(g.steps))
}

// on returns the ridge's place at a position along the course.
func (g *ground) on(m float64) point {
	x := g.x(m)
	i := min(g.column(x), len(g.steps)-1)
	a, b := g.ridge[i], g.ridge[i+1]
	f := min(max((x-a.x)/max(b.x-a.x, 0.1), 0), 1)
	return point{x, a.y + float64(f*(b.y-a.y))}
}

// runs returns, for each step of gradient, the areas below the ridge between two columns
// that are of it.
func (g *ground) runs(from, to int) (rings [colour.StepCount][][]point) {
	for from < to {
		end := from + 1
		for end < to && g.steps[end] == g.steps[from] {
			end++
		}
		rings[g.steps[from]] = append(rings[g.steps[from]], g.below(from, end))
		from = end
	}
	return rings
}

// below returns the area below the ridge between two of its points.
func (g *ground) below(from, to int) []point {
	ring := []point{{g.ridge[from].x, g.plot.y1}}
	ring = append(ring, straightened(g.ridge[from:to+1])...)
	return append(ring, point{g.ridge[to].x, g.plot.y1})
}

// piece returns the ridge between two positions along the course.
func (g *ground) piece(fromM, toM float64) []point {
	a, b := g.on(fromM), g.on(toM)
	line := []point{a}
	for i := g.column(a.x) + 1; i <= g.column(b.x) && i < len(g.ridge); i++ {
		line = append(line, g.ridge[i])
	}
	return straightened(append(line, b))
}

// straightenPx is how far a line may be off where points of it are left out, in px.
const straightenPx = 0.15

// straightened returns a line without the points that it runs straight past (Ramer 1972,
// Douglas and Peucker 1973).
func straightened(line []point) []point {
	if len(line) < 3 {
		return append([]point(nil), line...)
	}
	keep := make([]bool, len(line))
	keep[0], keep[len(line)-1] = true, true
	spans := [][2]int{{0, len(line) - 1}}
	for len(spans) > 0 {
		from, to := spans[len(spans)-1][0], spans[len(spans)-1][1]
		spans = spans[:len(spans)-1]
		if i, off := farthest(line, from, to); off > straightenPx {
			keep[i] = true
			spans = append(spans, [2]int{from, i}, [2]int{i, to})
		}
	}
	var out []point
	for i, p := range line {
		if keep[i] {
			out = append(out, p)
		}
	}
	return out
}

// farthest returns which point between two of a line is farthest from the chord between
// them, and how far.
func farthest(line []point, from, to int) (index int, off float64) {
	a, b := line[from], line[to]
	for i := from + 1; i < to; i++ {
		if d := fromChord(line[i], a, b); d > off {
			index, off = i, d
		}
	}
	return index, off
}

// fromChord is the distance of a point from the chord from a to b.
func fromChord(p, a, b point) float64 {
	dx, dy := b.x-a.x, b.y-a.y
	square := float64(dx*dx) + float64(dy*dy)
	f := 0.0
	if square > 0 {
		f = min(max((float64((p.x-a.x)*dx)+float64((p.y-a.y)*dy))/square, 0), 1)
	}
	x, y := p.x-a.x-float64(f*dx), p.y-a.y-float64(f*dy)
	return math.Sqrt(float64(x*x) + float64(y*y))
}
