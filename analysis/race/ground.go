package race

import (
	"sort"

	"parcours.example/analysis/ride"
)

// cell is a piece of the road as the field needs it. Positions of the race are in metres
// along the sloping road.
type cell struct {
	start, end float64
	// rise is the elevation at the start over that of the road's start, in m.
	rise float64
	// sin is that of the slope's angle, roll its cosine times the surface's factor.
	sin, roll float64
	// halfDensity is ½ρ; head and cross are the wind against the rider and across.
	halfDensity, head, cross float64
	// limit is the square of the highest speed at the start, limitSlope its change per
	// metre.
	limit, limitSlope float64
	coasts            bool
}

// ground is the road in cells.
type ground struct {
	cells []cell
	// startM are the cells' horizontal positions, cos the cosines of their slopes: for
	// positions that come from outside or go there.
	startM, cos []float64
	length      float64
	// coastMps is the speed above which nobody pedals where cells say so.
	coastMps float64
	// limited says that bends limit the speed anywhere, varied that the surface or the
	// headwind changes.
	limited, varied bool
}

func newGround(road *ride.Road) *ground {
	n := len(road.Pieces)
	g := &ground{cells: make([]cell, n), startM: make([]float64, n), cos: make([]float64, n), coastMps: road.Conditions.CoastAboveMps}
	at, rise := 0.0, 0.0
	for i := range road.Pieces {
		p := &road.Pieces[i]
		c := cell{
			start: at, end: at + p.RoadM, rise: rise, sin: p.Sin, roll: p.Cos * p.CrrFactor,
			halfDensity: p.AirDensityKgM3 / 2, head: p.HeadwindMps, cross: p.CrosswindMps,
			limit: p.StartLimit, coasts: road.Coasts(p),
		}
		if p.StartLimit != p.EndLimit {
			c.limitSlope = (p.EndLimit - p.StartLimit) / p.RoadM
		}
		g.limited = g.limited || min(p.StartLimit, p.EndLimit) < anySpeedSquare
		first := &road.Pieces[0]
		g.varied = g.varied || p.CrrFactor != first.CrrFactor || p.HeadwindMps != first.HeadwindMps
		g.cells[i], g.startM[i], g.cos[i] = c, p.StartM, p.Cos
		at, rise = c.end, rise+float64(p.Sin*p.RoadM)
	}
	g.length = at
	return g
}

// anySpeedSquare is the square of a speed that nobody reaches, in m²/s².
const anySpeedSquare = 40.0 * 40

// along returns the position along the sloping road of a horizontal one.
func (g *ground) along(atM float64) float64 {
	i := sort.Search(len(g.startM), func(i int) bool { return g.startM[i] > atM }) - 1
	i = max(i, 0)
	return min(g.cells[i].start+float64((atM-g.startM[i])/g.cos[i]), g.length)
}

// horizontal is the counterpart of along.
func (g *ground) horizontal(at float64) float64 {
	i := sort.Search(len(g.cells), func(i int) bool { return g.cells[i].start > at }) - 1
	i = max(i, 0)
	return g.startM[i] + float64((at-g.cells[i].start)*g.cos[i])
}

// find returns the cell that holds a position at or after that of the cell from.
func (g *ground) find(from int, at float64) int {
	for from < len(g.cells)-1 && at >= g.cells[from].end {
		from++
	}
	return from
}

// riseAt is the elevation at a position of cell i, which it may lie beyond.
func (c *cell) riseAt(at float64) float64 { return c.rise + float64(c.sin*(at-c.start)) }
