package plan

import (
	"math"

	"parcours.example/analysis/ride"
)

// cell is a stretch of road on which a plan's power holds: one piece of the road, or
// several that are too short to matter alone, in the numbers that move the bike.
type cell struct {
	// endM is its end as a horizontal position, roadM its length along the slope.
	endM, roadM float64
	// drag, headwind, steady and bearing are those of ride.Resistance, as means over
	// the cell: F(v) = drag·(v + headwind)² + steady + bearing·v.
	drag, headwind, steady, bearing float64
	// limitJ is the highest kinetic energy that bends and brakes allow at its end.
	limitJ float64
	// coastJ is the kinetic energy above which nobody pedals on it, +Inf where they do.
	coastJ float64
}

// grid is the road as the optimiser sees it.
type grid struct {
	cells []cell
	// inertiaKg is m + I/r², efficiency that of the drivetrain.
	inertiaKg, efficiency float64
	// startJ is the kinetic energy at the start.
	startJ float64
}

// newGrid merges the pieces of a road to cells of at least leastM metres.
func newGrid(road *ride.Road, bike *ride.Bike, leastM float64) *grid {
	g := &grid{inertiaKg: bike.InertiaKg, efficiency: bike.Efficiency}
	half := bike.InertiaKg / 2
	v0 := road.Conditions.StartSpeedMps
	g.startJ = half * min(float64(v0*v0), road.Pieces[0].StartLimit)
	var c cell
	c.limitJ, c.coastJ = math.Inf(1), math.Inf(1)
	for i := range road.Pieces {
		p := &road.Pieces[i]
		r := bike.On(p)
		h := p.RoadM
		c.drag += float64(h * r.Drag)
		c.headwind += float64(h * r.HeadwindMps)
		c.steady += float64(h * (r.Rolling + r.Gravity + r.Bearing))
		c.bearing += float64(h * r.BearingPerMps)
		c.roadM += h
		c.endM = p.EndM
		c.limitJ = min(c.limitJ, half*p.EndLimit)
		if cond := &road.Conditions; !cond.Indoor && p.Gradient < coastBelow {
			c.coastJ = half * cond.CoastAboveMps * cond.CoastAboveMps
		}
		if c.roadM < leastM && i < len(road.Pieces)-1 {
			continue
		}
		c.drag /= c.roadM
		c.headwind /= c.roadM
		c.steady /= c.roadM
		c.bearing /= c.roadM
		g.cells = append(g.cells, c)
		c = cell{limitJ: math.Inf(1), coastJ: math.Inf(1)}
	}
	return g
}

// coastBelow is the gradient below which riders freewheel above the coasting speed.
const coastBelow = -0.01

// force is the mean resistance over a cell between two speeds in m/s, and its first and
// second derivatives by the kinetic energies at both ends. With v² linear along the
// cell the means are v̄² = (v₀² + v₁²)/2 and, close enough, v̄ = (v₀ + v₁)/2.
type force struct{ value, by0, by1, by00, by11 float64 }

func (c *cell) force(e0, e1, v0, v1, inertia float64) force {
	sign := 1.0
	if v0+v1 < -2*c.headwind {
		sign = -1
	}
	drag := sign * c.drag
	linear := c.bearing/2 + float64(drag*c.headwind)
	f := force{
		value: c.steady + float64(linear*(v0+v1)) + float64(drag*((e0+e1)/inertia+float64(c.headwind*c.headwind))),
		by0:   drag / inertia, by1: drag / inertia,
	}
	if v0 > 0 {
		f.by0 += linear / (inertia * v0)
		f.by00 = -linear / (inertia * inertia * v0 * v0 * v0)
	}
	f.by1 += linear / (inertia * v1)
	f.by11 = -linear / (inertia * inertia * v1 * v1 * v1)
	return f
}

// duration is the time over a cell of h metres between two speeds, and its derivatives
// by the kinetic energies at both ends:
//
//	T = 3/2·h·(v₀ + v₁)/(v₀² + v₀v₁ + v₁²)
//
// which is exact where the net power is constant (x ∝ v³), from rest too.
type duration struct{ value, by0, by1, by00, by01, by11 float64 }

func newDuration(h, v0, v1, inertia float64) duration {
	q := float64(v0*v0) + float64(v0*v1) + float64(v1*v1)
	k := 1.5 * h / (inertia * q * q)
	d := duration{
		value: 1.5 * h * (v0 + v1) / q,
		by0:   -k * (v0 + 2*v1), by1: -k * (v1 + 2*v0),
	}
	k2 := k / (inertia * q)
	d.by01 = 6 * k2 * (v0 + v1)
	n := 3 * k2 * (float64(v0*v0) + float64(3*v0*v1) + float64(v1*v1))
	if v0 > 0 {
		d.by00 = n / v0
	}
	d.by11 = n / v1
	return d
}
