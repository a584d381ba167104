package course

import (
	"math"
	"sort"

	"parcours.example/analysis/geodesy"
)

// groundStepM is the spacing in metres of the samples that structure is found on:
// close enough for a lap of 300 m, far enough that their direction is that of the
// road and not of the noise.
const groundStepM = 10.0

// maxGroundSamples bounds the samples of a course of any length; the step grows
// beyond it.
const maxGroundSamples = 400_000

// ground is the line of a course in uniform steps. Places along it are counted in
// steps from the start, with fractions.
type ground struct {
	// step is the distance between samples in metres.
	step float64
	pos  []geodesy.Vec
	// dir are unit vectors along the line, from the sample before to the one after.
	dir []geodesy.Vec
}

// newGround samples the line with positions pos at the distances s.
func newGround(s []float64, pos []geodesy.Vec) *ground {
	length := s[len(s)-1]
	n := min(max(int(math.Round(length/groundStepM)), 2), maxGroundSamples)
	g := &ground{step: length / float64(n), pos: make([]geodesy.Vec, n+1)}
	piece := 0
	for i := range g.pos {
		at := length * float64(i) / float64(n)
		for piece < len(s)-2 && s[piece+1] <= at {
			piece++
		}
		f := min((at-s[piece])/(s[piece+1]-s[piece]), 1)
		g.pos[i] = pos[piece].Lerp(pos[piece+1], f)
	}
	g.setDirections()
	return g
}

func (g *ground) setDirections() {
	g.dir = make([]geodesy.Vec, len(g.pos))
	for i := range g.pos {
		d := g.pos[min(i+1, g.last())].Sub(g.pos[max(i-1, 0)])
		if norm := d.Norm(); norm > 0 {
			g.dir[i] = d.Scale(1 / norm)
		}
	}
}

// reversed returns the same line ridden the other way.
func (g *ground) reversed() *ground {
	n := len(g.pos)
	r := &ground{step: g.step, pos: make([]geodesy.Vec, n), dir: make([]geodesy.Vec, n)}
	for i := range n {
		r.pos[i], r.dir[i] = g.pos[n-1-i], g.dir[n-1-i].Scale(-1)
	}
	return r
}

// last returns the index of the last sample.
func (g *ground) last() int { return len(g.pos) - 1 }

// steps converts metres to steps.
func (g *ground) steps(m float64) float64 { return m / g.step }

// point returns the position at a place.
func (g *ground) point(x float64) geodesy.Vec {
	i := min(max(int(x), 0), g.last()-1)
	return g.pos[i].Lerp(g.pos[i+1], min(max(x-float64(i), 0), 1))
}

// project returns the place between the samples beside j that is nearest to p, and
// its distance from p in metres.
func (g *ground) project(p geodesy.Vec, j int) (x, dist float64) {
	x, dist = float64(j), geodesy.Chord(p, g.pos[j])
	for i := max(j-1, 0); i < min(j+1, g.last()); i++ {
		piece := g.pos[i+1].Sub(g.pos[i])
		square := piece.Dot(piece)
		if square == 0 {
			continue
		}
		f := min(max(p.Sub(g.pos[i]).Dot(piece)/square, 0), 1)
		if d := geodesy.Chord(p, g.pos[i].Lerp(g.pos[i+1], f)); d < dist {
			x, dist = float64(i)+f, d
		}
	}
	return x, dist
}

// nearest returns the place within the given number of steps around x that is
// nearest to p, and its distance from p in metres.
func (g *ground) nearest(p geodesy.Vec, x, within float64) (at, dist float64) {
	best, square := -1, math.Inf(1)
	from, to := max(int(math.Ceil(x-within)), 0), min(int(x+within), g.last())
	for j := from; j <= to; j++ {
		d := g.pos[j].Sub(p)
		if s := d.Dot(d); s < square {
			best, square = j, s
		}
	}
	if best < 0 {
		return x, math.Inf(1)
	}
	return g.project(p, best)
}

// grid finds the samples of a ground around a point. It lies in the level plane at
// the start of the course; the plane only sorts, distances are measured in space.
type grid struct {
	origin geodesy.Vec
	frame  geodesy.Frame
	cell   float64
	ids    map[[2]int32]int32
	// items holds the samples by cell in ascending order, those of cell id from
	// first[id] to first[id+1].
	first, items []int32
}

// newGrid sorts the samples of g into square cells of a width in metres.
func newGrid(g *ground, cell float64) *grid {
	gr := &grid{
		origin: g.pos[0], frame: geodesy.FrameAt(g.pos[0]), cell: cell,
		ids: make(map[[2]int32]int32),
	}
	of := make([]int32, len(g.pos))
	for i, p := range g.pos {
		key := gr.key(p)
		id, known := gr.ids[key]
		if !known {
			id = int32(len(gr.ids))
			gr.ids[key] = id
			gr.first = append(gr.first, 0)
		}
		of[i] = id
		gr.first[id]++
	}
	gr.fill(of)
	return gr
}

// fill turns the counts in first into ends and places the samples from the back.
func (gr *grid) fill(of []int32) {
	sum := int32(0)
	for id, count := range gr.first {
		sum += count
		gr.first[id] = sum
	}
	gr.first = append(gr.first, sum)
	gr.items = make([]int32, len(of))
	for i := len(of) - 1; i >= 0; i-- {
		gr.first[of[i]]--
		gr.items[gr.first[of[i]]] = int32(i)
	}
}

func (gr *grid) key(p geodesy.Vec) [2]int32 {
	d := p.Sub(gr.origin)
	return [2]int32{
		int32(math.Floor(d.Dot(gr.frame.East) / gr.cell)),
		int32(math.Floor(d.Dot(gr.frame.North) / gr.cell)),
	}
}

// later returns the samples of the cell at key from the given one on.
func (gr *grid) later(key [2]int32, from int) []int32 {
	id, known := gr.ids[key]
	if !known {
		return nil
	}
	items := gr.items[gr.first[id]:gr.first[id+1]]
	return items[sort.Search(len(items), func(k int) bool { return int(items[k]) >= from }):]
}
