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

// newGrid divides a road into cells of about cellM metres: long pieces evenly, short ones
// several to a cell.
func newGrid(road *ride.Road, bike *ride.Bike, cellM float64) *grid {
	g := &grid{inertiaKg: bike.InertiaKg, efficiency: bike.Efficiency}
	v0 := road.Conditions.StartSpeedMps
	g.startJ = g.inertiaKg / 2 * min(float64(v0*v0), road.Pieces[0].StartLimit)
	b := builder{grid: g, road: road, bike: bike, cellM: cellM, open: emptyCell()}
	for i := range road.Pieces {
		b.add(&road.Pieces[i], i == len(road.Pieces)-1)
	}
	return g
}

func emptyCell() cell { return cell{limitJ: math.Inf(1), coastJ: math.Inf(1)} }

// builder gathers stretches of road into cells.
type builder struct {
	*grid
	road  *ride.Road
	bike  *ride.Bike
	cellM float64
	open  cell
}

// add takes in a piece. A cell ends where it is long enough, and with the road.
func (b *builder) add(p *ride.Piece, ends bool) {
	length := p.EndM - p.StartM
	n := max(1, math.Round(length/b.cellM))
	r := b.bike.On(p)
	h := length / n / p.Cos
	c := &b.open
	for i := 1.0; i <= n; i++ {
		c.drag += float64(h * r.Drag)
		c.headwind += float64(h * r.HeadwindMps)
		c.steady += float64(h * (r.Rolling + r.Gravity + r.Bearing))
		c.bearing += float64(h * r.BearingPerMps)
		limit, at := p.EndLimit, p.EndM
		if i < n {
			at = p.StartM + float64(length*i/n)
			if p.StartLimit != p.EndLimit {
				limit = p.StartLimit + float64((p.EndLimit-p.StartLimit)*i/n)
			}
		}
		c.limitJ = min(c.limitJ, b.inertiaKg/2*limit)
		if v := b.road.Conditions.CoastAboveMps; b.road.Coasts(p) {
			c.coastJ = b.inertiaKg / 2 * float64(v*v)
		}
		c.roadM += h
		c.endM = at
		if i < n || ends || c.roadM >= 0.8*b.cellM {
			b.close()
		}
	}
}

// close ends the open cell.
func (b *builder) close() {
	c := b.open
	c.drag /= c.roadM
	c.headwind /= c.roadM
	c.steady /= c.roadM
	c.bearing /= c.roadM
	b.cells = append(b.cells, c)
	b.open = emptyCell()
}

// force is the mean resistance over a cell between two speeds in m/s, and its first and
// second derivatives by the kinetic energies at both ends. With v² linear along the
// cell the means are v̄² = (v₀² + v₁²)/2 and, close enough, v̄ = (v₀ + v₁)/2.
type force struct{ value, by0, by1, by00, by11 float64 }

func (c *cell) force(e0, e1, v0, v1, inertia float64) force {
	value, drag, linear := c.resistance(e0, e1, v0, v1, inertia)
	f := force{value: value, by0: drag / inertia, by1: drag / inertia}
	if v0 > 0 {
		f.by0 += linear / (inertia * v0)
		f.by00 = -linear / (inertia * inertia * v0 * v0 * v0)
	}
	f.by1 += linear / (inertia * v1)
	f.by11 = -linear / (inertia * inertia * v1 * v1 * v1)
	return f
}

// forceAfter is the mean resistance and its derivative by the energy at the end alone.
func (c *cell) forceAfter(e0, e1, v0, v1, inertia float64) (value, by1 float64) {
	value, drag, linear := c.resistance(e0, e1, v0, v1, inertia)
	return value, (drag + linear/v1) / inertia
}

// resistance is the mean force, with its parts that go with v̄² and with v̄; the air pushes
// where it comes from behind faster than the bike.
func (c *cell) resistance(e0, e1, v0, v1, inertia float64) (value, drag, linear float64) {
	drag = c.drag
	if v0+v1 < -2*c.headwind {
		drag = -drag
	}
	linear = float64(c.bearing/2) + float64(drag*c.headwind)
	value = c.steady + float64(linear*(v0+v1)) + float64(drag*((e0+e1)/inertia+float64(c.headwind*c.headwind)))
	return value, drag, linear
}

// duration is the time over a cell of h metres between two speeds, and its derivatives
// by the kinetic energies at both ends:
//
//	T = 3/2·h·(v₀ + v₁)/(v₀² + v₀v₁ + v₁²)
//
// which is exact where the net power is constant (x ∝ v³), from rest too.
type duration struct{ value, by0, by1, by00, by01, by11 float64 }

// briefly is the time over a cell and its derivative by the energy at the end alone.
func briefly(h, v0, v1, inertia float64) (value, by1 float64) {
	q := float64(v0*v0) + float64(v0*v1) + float64(v1*v1)
	k := 1.5 * h / q
	return float64(k * (v0 + v1)), -k / (inertia * q) * (v1 + 2*v0)
}

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
