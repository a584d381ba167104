package plan

import "math"

// expansion is a quadratic function of the changes of energy, stock and power at a node,
// (δe, δw, δp): the least barrier function from there to the finish. Where the power
// isn't carried on, its last row is zero.
type expansion struct {
	h [3][3]float64
	g [3]float64
}

// feedback is what the backward sweep finds for a cell.
type feedback struct {
	// je gives the change of the next energy: je·(δe, δp, δβ), and the linear guess.
	je [3]float64
	// power is constant + (δe, δw, δp before), brake constant + (δe, δw, δp).
	power, brake [4]float64
}

// sweeper holds the state of an optimisation.
type sweeper struct {
	*program
	x, trial *point
	// mu weighs the barriers; blur is the width over which the kink at the threshold of
	// the stock is rounded, in W.
	mu, blur float64
	cells    []feedback
	// promise is the decrease that the quadratic model promises.
	promise float64
	// damp shortens the steps, in shares of a natural curvature.
	damp float64
	// cross weighs the parts of the Hessian that can bend it the wrong way; bent tells
	// that they did.
	cross float64
	bent  bool
	// sweeps counts the sweeps; converged tells whether the last run came to its end.
	sweeps    int
	converged bool
}

func newSweeper(g *program, x *point) *sweeper {
	n := len(g.grid.cells)
	return &sweeper{program: g, x: x, trial: newPoint(n), cells: make([]feedback, n)}
}

// backward expands from the finish to the start: with the exact Hessian, and where that
// isn't convex in a power, with less or nothing of the parts that make it so.
func (s *sweeper) backward() {
	for _, s.cross = range []float64{1, 0.5, 0} {
		s.bent, s.promise = false, 0
		var next expansion
		for k := len(s.cells) - 1; k >= 0 && (!s.bent || s.cross == 0); k-- {
			s.sweep(k, &next)
		}
		if !s.bent {
			return
		}
	}
}

// sweep takes the expansion from the end of cell k to its start.
func (s *sweeper) sweep(k int, next *expansion) {
	l := s.linearise(k)
	b := s.barrier(k)
	m := s.model(k, &l, &b, next)
	fb := &s.cells[k]
	fb.je = [3]float64{l.je[1], l.je[3], l.je[4]}
	if s.brakes {
		m.h[3][3] += b.hBeta
		m.g[3] += b.gBeta
		s.eliminateBrake(&m, b.hBeta, fb)
	}
	m.h[2][2] += b.hPower
	m.g[2] += b.gPower
	natural := s.damp * l.t.value / (s.stock.thresholdW * s.stock.thresholdW)
	if s.eased(k) {
		s.eliminateChange(&m, &b, natural, fb, next)
	} else {
		s.eliminatePower(&m, b.hPower, natural, fb, next)
	}
}

// linear is a cell's equations expanded to first order, with what the Hessian needs.
type linear struct {
	t    duration
	f    force
	flow flow
	// rate is dW/dt and its derivatives by power and mean stock.
	rate, rateP, ratePP, rateW, ratePW float64
	// je and jw give the changes of the next energy and stock by (1, δe, δw, δp, δβ); the
	// first are zero, since every iterate obeys the equations.
	je, jw [5]float64
	// e1 is ∂/∂e_k+1 of the energy equation, w1 and w1e those of the stock's by w_k+1 and
	// e_k+1.
	e1, w1, w1e float64
}

func (s *sweeper) linearise(k int) linear {
	x, c := s.x, &s.grid.cells[k]
	v0, v1 := x.v[k], x.v[k+1]
	p, h := s.effective(k, x.p[k]), c.roadM
	l := linear{
		t:    newDuration(h, v0, v1, s.inertiaKg),
		f:    c.force(x.e[k], x.e[k+1], v0, v1, s.inertiaKg),
		flow: s.stock.at(p, s.blur),
	}
	left := s.stock.fullJ - (x.w[k]+x.w[k+1])/2
	l.rate = float64(left*l.flow.b) - l.flow.a
	l.rateP = float64(left*l.flow.b1) - l.flow.a1
	l.ratePP = float64(left*l.flow.b2) - l.flow.a2
	l.rateW, l.ratePW = -l.flow.b, -l.flow.b1
	push := s.efficiency * p
	// e' − e − ηpT + hF̄ + β = 0
	l.e1 = 1 - float64(push*l.t.by1) + float64(h*l.f.by1)
	byE := -1 - float64(push*l.t.by0) + float64(h*l.f.by0)
	l.je = [5]float64{0, -byE / l.e1, 0, s.efficiency * l.t.value / l.e1, -1 / l.e1}
	if s.coasts[k] {
		l.je[3], l.rateP, l.ratePP, l.ratePW = 0, 0, 0, 0
	}
	// w' − w − T·rate = 0
	half := float64(l.t.value * l.rateW / 2)
	l.w1 = 1 - half
	l.w1e = -l.rate * l.t.by1
	wE, wP := float64(-l.rate*l.t.by0), float64(-l.t.value*l.rateP)
	l.jw = [5]float64{
		0, -(wE + float64(l.w1e*l.je[1])) / l.w1, (1 + half) / l.w1,
		-(wP + float64(l.w1e*l.je[3])) / l.w1, -l.w1e * l.je[4] / l.w1,
	}
	return l
}

// barriers are the first and second derivatives of a cell's barriers; the second in their
// primal–dual form z/room.
type barriers struct {
	// hPower and gPower are those by the power alone, hStock and gStock by the next
	// stock, hPowerStock the cross one.
	hPower, gPower, hStock, gStock, hPowerStock float64
	hEnergy, gEnergy                            float64
	hBeta, gBeta                                float64
	hChange, gChange                            float64
}

func (s *sweeper) barrier(k int) barriers {
	r, z := &s.x.rooms[k], &s.x.z[k]
	mu := s.mu * s.weight(k)
	b := barriers{
		hPower: z.least/r.least + z.most/r.most, gPower: mu/r.most - mu/r.least,
		hStock: z.floor / r.floor, gStock: -mu / r.floor,
	}
	if !math.IsInf(r.floor, 1) {
		far := r.floor + s.nearJ
		b.gStock += mu / far
		b.hStock = max(b.hStock-mu/float64(far*far), 1e-3*b.hStock)
	}
	if s.limitPerJ > 0 {
		h, g := z.rider/r.rider, mu/r.rider
		b.hPower += h
		b.gPower += g
		b.hStock += float64(h * s.limitPerJ * s.limitPerJ)
		b.gStock -= float64(g * s.limitPerJ)
		b.hPowerStock = float64(-h * s.limitPerJ)
	}
	b.hEnergy, b.gEnergy = z.creep/r.creep, -mu/r.creep
	if s.brakes {
		b.hEnergy += z.speed / r.speed
		b.gEnergy += mu / r.speed
		b.hBeta, b.gBeta = z.beta/r.beta, -mu/r.beta
	}
	if s.eased(k) {
		b.hChange, b.gChange = z.up/r.up+z.down/r.down, mu/r.up-mu/r.down
	}
	return b
}

// quadratic is a function of (δe, δw, δp, δβ) to second order; the upper triangle of h
// counts.
type quadratic struct {
	h [4][4]float64
	g [4]float64
}

// leastCurvature is the least share of the time's own curvature that is counted on.
const leastCurvature = 0.05

// model expands a cell's part of the Lagrangian with the value from its end on.
func (s *sweeper) model(k int, l *linear, b *barriers, next *expansion) quadratic {
	c, p := &s.grid.cells[k], s.effective(k, s.x.p[k])
	// The multipliers of the two equations, by stationarity in w_k+1 and e_k+1.
	gW := b.gStock + next.g[1]
	gE := l.t.by1 + b.gEnergy + next.g[0]
	onW := -gW / l.w1
	onE := -(gE + float64(onW*l.w1e)) / l.e1
	// The Hessian of T + onE·(energy equation) + onW·(stock equation).
	weight := max(1-float64(onE*s.efficiency*p)-float64(onW*l.rate), leastCurvature)
	h00 := bounded(float64(weight*l.t.by00), onE*c.roadM*l.f.by00)
	h11 := bounded(float64(weight*l.t.by11), onE*c.roadM*l.f.by11)
	h01 := weight * l.t.by01
	byTP := s.cross * (-float64(onE*s.efficiency) - float64(onW*l.rateP))
	if s.coasts[k] {
		byTP = 0
	}
	h0p, h1p := float64(l.t.by0*byTP), float64(l.t.by1*byTP)
	hpp := max(-onW*l.t.value*l.ratePP, 0)
	byTW := -s.cross * onW * l.rateW / 2
	h0w, h1w := float64(l.t.by0*byTW), float64(l.t.by1*byTW)
	hpw := float64(-s.cross * onW * l.t.value * l.ratePW / 2)
	// The part in the next node's variables, and the cross parts with those before.
	ee := h11 + b.hEnergy + next.h[0][0]
	ew := h1w + next.h[0][1]
	ww := b.hStock + next.h[1][1]
	pe, pw := h1p+next.h[0][2], hpw+b.hPowerStock+next.h[1][2]
	var m quadratic
	for i := range 4 {
		a, d := l.je[i+1], l.jw[i+1]
		rowE := float64(ee*a) + float64(ew*d)
		rowW := float64(ew*a) + float64(ww*d)
		for j := i; j < 4; j++ {
			m.h[i][j] = float64(rowE*l.je[j+1]) + float64(rowW*l.jw[j+1])
		}
		m.g[i] = float64(a*gE) + float64(d*gW)
	}
	je, jw := &l.je, &l.jw
	m.h[0][0] += h00 + 2*(float64(h01*je[1])+float64(h0w*jw[1]))
	m.h[0][1] += h0w + float64(h0w*jw[2]) + float64(h1w*je[1])
	m.h[0][2] += h0p + float64(h01*je[3]) + float64(h0w*jw[3]) + float64(pe*je[1]) + float64(pw*jw[1])
	m.h[0][3] += float64(h01*je[4]) + float64(h0w*jw[4])
	m.h[1][2] += hpw + float64(h1w*je[3]) + float64(pw*jw[2])
	m.h[1][3] += float64(h1w * je[4])
	m.h[2][2] += hpp + 2*(float64(pe*je[3])+float64(pw*jw[3])) + next.h[2][2]
	m.h[2][3] += float64(pe*je[4]) + float64(pw*jw[4])
	m.g[0] += l.t.by0
	m.g[2] += next.g[2]
	return m
}

// bounded adds a curvature to the time's own as far as most of that stays.
func bounded(own, other float64) float64 { return own + max(other, float64(-0.9*own)) }

// convex mends a curvature that isn't convex enough.
func (s *sweeper) convex(h, least float64) float64 {
	if h > 1e-3*least && h > 0 {
		return h
	}
	s.bent = true
	return max(math.Abs(h), least)
}

// eliminateBrake minimises over the brakes.
func (s *sweeper) eliminateBrake(m *quadratic, least float64, fb *feedback) {
	m.h[3][3] = s.convex(m.h[3][3], least)
	d := 1 / m.h[3][3]
	s.promise += m.g[3] * m.g[3] * d / 2
	fb.brake = [4]float64{-m.g[3] * d, -m.h[0][3] * d, -m.h[1][3] * d, -m.h[2][3] * d}
	for i := range 3 {
		for j := i; j < 3; j++ {
			m.h[i][j] -= float64(m.h[i][3] * m.h[j][3] * d)
		}
		m.g[i] -= float64(m.h[i][3] * m.g[3] * d)
	}
}

// eliminatePower minimises over a free power.
func (s *sweeper) eliminatePower(m *quadratic, least, natural float64, fb *feedback, next *expansion) {
	d := 1 / s.convex(m.h[2][2]+natural, least)
	s.promise += m.g[2] * m.g[2] * d / 2
	k0, ke, kw := -m.g[2]*d, -m.h[0][2]*d, -m.h[1][2]*d
	fb.power = [4]float64{k0, ke, kw, 0}
	ew := m.h[0][1] + float64(m.h[0][2]*kw)
	*next = expansion{
		h: [3][3]float64{{m.h[0][0] + float64(m.h[0][2]*ke), ew, 0}, {ew, m.h[1][1] + float64(m.h[1][2]*kw), 0}, {}},
		g: [3]float64{m.g[0] + float64(m.h[0][2]*k0), m.g[1] + float64(m.h[1][2]*k0), 0},
	}
}

// eliminateChange minimises over a bounded change of the power of the cell before.
func (s *sweeper) eliminateChange(m *quadratic, b *barriers, natural float64, fb *feedback, next *expansion) {
	d := 1 / s.convex(m.h[2][2]+b.hChange+natural, b.hChange)
	g := m.g[2] + b.gChange
	s.promise += g * g * d / 2
	k0, ke, kw, kp := -g*d, -m.h[0][2]*d, -m.h[1][2]*d, float64(-m.h[2][2]*d)
	fb.power = [4]float64{k0, ke, kw, 1 + kp}
	hp := m.h[2][2]
	ew := m.h[0][1] + float64(m.h[0][2]*kw)
	ep, wp := m.h[0][2]+float64(hp*ke), m.h[1][2]+float64(hp*kw)
	*next = expansion{
		h: [3][3]float64{
			{m.h[0][0] + float64(m.h[0][2]*ke), ew, ep},
			{ew, m.h[1][1] + float64(m.h[1][2]*kw), wp},
			{ep, wp, hp + float64(hp*kp)},
		},
		g: [3]float64{m.g[0] + float64(m.h[0][2]*k0), m.g[1] + float64(m.h[1][2]*k0), m.g[2] + float64(hp*k0)},
	}
}
