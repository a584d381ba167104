package plan

import "math"

// program is the nonlinear program of the package's documentation.
type program struct {
	*grid
	stock stock
	// stockAtStart is the stock at the start; floor is the least of it at each node, −Inf
	// where there is none; defect is what the true motion is known to have less of it.
	stockAtStart  float64
	floor, defect []float64
	// nearJ is the room from the floor within which its barrier works: −log(room/(room +
	// nearJ)), so that far from it a stock has the same price everywhere.
	nearJ float64
	// least and most bound the power in each cell.
	least, most []float64
	// limit0 + limitPerJ·w is the rider's limit at a stock w; limitPerJ = 0 where it
	// doesn't depend on it and stands in most.
	limit0, limitPerJ float64
	// change bounds how far the power may change from the cell before; +Inf where it is
	// free.
	change []float64
	// coasts tells the cells in which the rider goes too fast to pedal: the power asked
	// has no effect there.
	coasts []bool
	// brakes tells whether there are speed limits.
	brakes bool
}

// point is a ride over the cells with the multipliers of its bounds.
type point struct {
	// e and w are at the n + 1 nodes, with the speeds v there; p and beta are in the n cells.
	e, w, v, p, beta []float64
	// t are the times over the cells, rooms those to the bounds of each cell, z the
	// bounds' multipliers.
	t     []float64
	rooms []room
	z     []room
}

// room holds a value for each bound of a cell: the room to it, or its multiplier. A room
// of +Inf is no bound.
type room struct {
	// floor is the bound of the stock at the cell's end, speed and creep are the upper and
	// the lower one of the energy there.
	floor, speed, creep float64
	// least, most and rider bound the power.
	least, most, rider float64
	// beta is that of the brakes, up and down of the change of power.
	beta, up, down float64
}

func newPoint(n int) *point {
	store := make([]float64, 6*n+3)
	take := func(m int) []float64 {
		s := store[:m:m]
		store = store[m:]
		return s
	}
	return &point{
		e: take(n + 1), w: take(n + 1), v: take(n + 1), p: take(n), beta: take(n), t: take(n),
		rooms: make([]room, n), z: make([]room, n),
	}
}

// limitW is the rider's limit at a stock.
func (g *program) limitW(w float64) float64 { return g.limit0 + float64(g.limitPerJ*w) }

// eased tells whether the change of power into cell k is bounded.
func (g *program) eased(k int) bool { return k > 0 && !math.IsInf(g.change[k], 1) }

// free tells whether cell k has a power of its own, that nothing ties to its neighbours'.
func (g *program) free(k int) bool {
	return math.IsInf(g.change[k], 1) && (k == len(g.change)-1 || math.IsInf(g.change[k+1], 1))
}

// roomAt measures the room to the bounds of cell k.
func (g *program) roomAt(x *point, k int) room {
	inf := math.Inf(1)
	p := x.p[k]
	r := room{
		floor: x.w[k+1] - g.defect[k+1] - g.floor[k+1], speed: inf, creep: x.e[k+1] - g.creepJ(), least: p - g.least[k], most: g.most[k] - p,
		rider: inf, beta: inf, up: inf, down: inf,
	}
	if g.limitPerJ > 0 {
		r.rider = g.limitW(x.w[k+1]-g.defect[k+1]) - p
	}
	if g.brakes {
		r.speed, r.beta = g.cells[k].limitJ-x.e[k+1], x.beta[k]
	}
	if g.eased(k) {
		d := p - x.p[k-1]
		r.up, r.down = g.change[k]-d, g.change[k]+d
	}
	return r
}

// barrierM is the length of a cell whose barriers weigh 1; they weigh with its length, so
// that they don't depend on the grid.
const barrierM = 20.0

func (g *program) weight(k int) float64 { return g.cells[k].roadM / barrierM }

func (g *program) speed(e float64) float64 { return math.Sqrt(2 * e / g.inertiaKg) }

// creepMps is the least speed of a plan: a little above that at which a rider has come to
// a halt.
const creepMps = 0.52

func (g *program) creepJ() float64 { return g.inertiaKg / 2 * creepMps * creepMps }

// after solves the energy equation of a cell for its end, by Newton's method from a
// guess, and gives the speed there and the time over the cell. It creeps where the power
// doesn't suffice, and returns NaN where it finds nothing.
func (g *program) after(c *cell, e0, v0, p, beta, guess float64) (e1, v1, t float64) {
	least := g.creepJ()
	push := g.efficiency * p
	e := max(guess, least)
	for range 30 {
		v := g.speed(e)
		time, timeBy1 := briefly(c.roadM, v0, v, g.inertiaKg)
		f, fBy1 := c.forceAfter(e0, e, v0, v, g.inertiaKg)
		off := e - e0 - float64(push*time) + float64(c.roadM*f) + beta
		next := e - off/(1-float64(push*timeBy1)+float64(c.roadM*fBy1))
		next = max(next, e/4, least)
		if math.Abs(next-e) <= 1e-5*e {
			// Newton's error is the square of this change.
			return next, g.speed(next), time + float64(timeBy1*(next-e))
		}
		e = next
	}
	return math.NaN(), 0, 0
}

// effective is the power in cell k of the power asked.
func (g *program) effective(k int, p float64) float64 {
	if g.coasts[k] {
		return 0
	}
	return p
}

// restock returns the stock after t seconds at a power.
func (g *program) restock(w, p, t, blur float64) float64 {
	f := g.stock.at(p, blur)
	half := float64(t * f.b / 2)
	return (float64(w*(1-half)) + float64(t*(float64(g.stock.fullJ*f.b)-f.a))) / (1 + half)
}

// timeOf is the time of a ride.
func (x *point) timeOf() float64 {
	sum := 0.0
	for _, t := range x.t {
		sum += t
	}
	return sum
}
