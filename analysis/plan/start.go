package plan

import "math"

// newProgram states the task over cells of about cellM metres, with free powers.
func (t *task) newProgram(cellM float64) *program {
	g := &program{grid: newGrid(t.road, t.bike, cellM), stock: t.stock()}
	g.stockAtStart = g.stock.fullJ
	n := len(g.cells)
	g.floor, g.least, g.most, g.change = make([]float64, n+1), make([]float64, n), make([]float64, n), make([]float64, n)
	lowest := 0.0
	if g.stock.law == account {
		lowest = math.Inf(-1)
	}
	least, most := t.bounds()
	for k := range g.cells {
		g.floor[k] = lowest
		g.least[k], g.most[k] = least, most
		g.change[k] = math.Inf(1)
		g.brakes = g.brakes || !math.IsInf(g.cells[k].limitJ, 1)
	}
	g.floor[n] = min(t.limits.EndReserveJ, g.stockAtStart-slimJ)
	g.nearJ = nearShare * g.stock.fullJ
	if g.stock.law == account {
		g.nearJ = everywhereJ
	}
	g.defect = make([]float64, n+1)
	g.coasts = make([]bool, n)
	if g.stock.law != account && !math.IsNaN(t.rider.MaxPowerW) {
		g.limit0 = t.capacity.CriticalPowerW
		g.limitPerJ = (t.rider.MaxPowerW - g.limit0) / t.capacity.WPrimeJ
	}
	return g
}

// nearShare is the share of a full stock within which a barrier keeps from its floor;
// everywhereJ is more than any stock that has no full.
const (
	nearShare   = 0.05
	everywhereJ = 1e9
)

// slimW and slimJ open bounds on which a power or a stock would have no room.
const (
	slimW = 1e-3
	slimJ = 1.0
)

// bounds are those of the power that don't depend on the ride.
func (t *task) bounds() (least, most float64) {
	least, most = 0, t.highest()
	if t.limits.MinPowerW > 0 {
		least = t.limits.MinPowerW
	}
	return least - slimW, max(most, least+slimW)
}

// constantly returns a ride at about the highest power that is always within the limits,
// strictly inside all bounds.
func (g *program) constantly(blur float64) *point {
	x := newPoint(len(g.cells))
	for k := range x.p {
		x.p[k] = g.moderate(k)
	}
	g.ride(x, blur)
	return x
}

// moderate is a power a little below the threshold and within the bounds of a cell.
func (g *program) moderate(k int) float64 {
	p := 0.97 * g.stock.thresholdW
	if p <= g.least[k] || p >= g.most[k] {
		p = (g.least[k] + min(g.most[k], g.stock.thresholdW)) / 2
	}
	return p
}

// gentleBrakeJ is what the brakes take in a cell at the start of the search, since a
// barrier wants some of everything.
const gentleBrakeJ = 1.0

// ride sets energies, brakes and stock by the powers of a point.
func (g *program) ride(x *point, blur float64) {
	v := g.speed(g.startJ)
	x.e[0], x.w[0], x.v[0] = g.startJ, g.stockAtStart, v
	for k := range g.cells {
		c := &g.cells[k]
		if g.brakes {
			x.beta[k] = gentleBrakeJ
		}
		guess := x.e[k] + 100
		p := g.effective(k, x.p[k])
		e, v1, t := g.after(c, x.e[k], v, p, x.beta[k], guess)
		for e <= 1.05*g.creepJ() && !g.coasts[k] && p < 0.9*g.most[k] {
			// It takes more to get over this.
			p = min(float64(1.1*p)+5, 0.95*g.most[k])
			x.p[k] = p
			e, v1, t = g.after(c, x.e[k], v, p, x.beta[k], guess)
		}
		if room := float64(c.limitJ * (1 - 1e-3)); e > room {
			v1 = g.speed(room)
			t = newDuration(c.roadM, v, v1, g.inertiaKg).value
			f := c.force(x.e[k], room, v, v1, g.inertiaKg).value
			x.beta[k] = x.e[k] + float64(g.efficiency*p*t) - float64(c.roadM*f) - room
			e = room
		}
		x.e[k+1], x.v[k+1], x.t[k], v = e, v1, t, v1
		x.w[k+1] = g.restock(x.w[k], p, t, blur)
		x.rooms[k] = g.roomAt(x, k)
	}
}

// from makes a ride of wanted powers that is strictly within all bounds: as much of
// their difference from moderate ones as the limits allow.
func (g *program) from(wanted []float64, blur float64) *point {
	x := newPoint(len(g.cells))
	for _, share := range []float64{1, 0.998, 0.99, 0.97, 0.9, 0.8, 0.6, 0.4, 0.2, 0.1, 0.05} {
		for k := range x.p {
			moderate := g.moderate(k)
			p := moderate + float64(share*(wanted[k]-moderate))
			margin := float64(0.002 * (g.most[k] - g.least[k]))
			x.p[k] = min(max(p, g.least[k]+margin), g.most[k]-margin)
			if g.eased(k) {
				most := float64(0.9 * g.change[k])
				x.p[k] = min(max(x.p[k], x.p[k-1]-most), x.p[k-1]+most)
			}
		}
		if g.ride(x, blur); g.strictly(x) {
			return x
		}
	}
	return g.constantly(blur)
}

// strictly tells whether a ride is inside all bounds.
func (g *program) strictly(x *point) bool {
	for k := range g.cells {
		r := &x.rooms[k]
		if !(r.floor > 0 && r.speed > 0 && r.creep > 0 && r.least > 0 && r.most > 0 && r.rider > 0 && r.up > 0 && r.down > 0) {
			return false
		}
	}
	return true
}

// onto returns the powers of one grid's cells for another's.
func onto(from *program, p []float64, to *program) []float64 {
	out := make([]float64, len(to.cells))
	j, start := 0, 0.0
	for k := range to.cells {
		middle := (start + to.cells[k].endM) / 2
		for j < len(p)-1 && from.cells[j].endM < middle {
			j++
		}
		out[k], start = p[j], to.cells[k].endM
	}
	return out
}
