package course

import (
	"math"

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
	// lengthM is the length of the line in metres.
	lengthM float64
	pos     []geodesy.Vec
	// dir are unit vectors along the line, from the sample before to the one after.
	dir []geodesy.Vec
}

// newGround samples the line with positions pos at the distances s.
func newGround(s []float64, pos []geodesy.Vec) *ground {
	length := s[len(s)-1]
	n := min(max(int(math.Round(length/groundStepM)), 2), maxGroundSamples)
	g := &ground{step: length / float64(n), lengthM: length, pos: make([]geodesy.Vec, n+1)}
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
	r := &ground{step: g.step, lengthM: g.lengthM, pos: make([]geodesy.Vec, n), dir: make([]geodesy.Vec, n)}
	for i := range n {
		r.pos[i], r.dir[i] = g.pos[n-1-i], g.dir[n-1-i].Scale(-1)
	}
	return r
}

// last returns the index of the last sample.
func (g *ground) last() int { return len(g.pos) - 1 }

// steps converts metres to steps.
func (g *ground) steps(m float64) float64 { return m / g.step }

// turnsBack reports whether the line goes the other way, by 120° or more, after a place
// than before it.
func (g *ground) turnsBack(x float64) bool {
	const reach, backwards = 4, -0.5
	i := int(math.Round(x))
	return g.dir[max(i-reach, 0)].Dot(g.dir[min(i+reach, g.last())]) < backwards
}

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
