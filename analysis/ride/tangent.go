package ride

import (
	"math"

	"parcours.example/analysis/elementary"
)

// tangent carries the derivatives of a ride's state along it. The state is u = v² over
// the distance x along the road: in it the lines that a ride keeps to, the speeds in
// bends and the coasting speed, don't depend on the mass. With f = du/dx = 2/M·(ηP/v − F)
//
//	ds/dx = −a·s + g,  a = −∂f/∂u,  g = ∂f/∂p,  dt/dp = −½∫ s/v³ dx
//
// for s = ∂u/∂p. The steps are the motion's own.
type tangent struct {
	mover
	road *Road
	bike *Bike

	piece  *Piece
	warmth warmth
	// zM is the elevation at the piece's start.
	zM float64
	// perKg, perM2, perCrr, perK and perMps turn the piece's resistances into their
	// derivatives: N/kg, kg/m³, N, 1/K, 1.
	perKg, perM2, perCrr, perK, perMps float64

	// square and clock are the derivatives of v² and of the time at a fixed place.
	square, clock gradient
	// arrivedW is the power at the wheel just before on the same piece, NaN on a new one.
	arrivedW float64
}

// interval is a ride in one way between two moments.
type interval struct{ from, to turn }

// powerW is the rider's mean power.
func (i *interval) powerW() float64 { return (i.to.workJ - i.from.workJ) / (i.to.timeS - i.from.timeS) }

func newTangent(road *Road, bike *Bike) *tangent {
	return &tangent{
		mover: mover{inertia: bike.InertiaKg, perInertia: 2 / bike.InertiaKg},
		road:  road, bike: bike, warmth: road.warmth(), zM: road.course.ElevationAt(0),
	}
}

// enter goes on to the next piece.
func (t *tangent) enter(p *Piece) {
	if t.piece != nil {
		t.zM += t.piece.rise()
	}
	t.piece, t.arrivedW = p, math.NaN()
	t.resistance = t.bike.On(p)
	t.perKg = (t.resistance.Rolling + t.resistance.Gravity) / t.bike.MassKg
	t.perM2 = 0.5 * p.AirDensityKgM3 * t.road.Conditions.Shelter
	t.perCrr = p.CrrFactor * t.bike.MassKg * gravity * p.Cos
	t.perK = t.warmth.at(t.zM + p.rise()/2)
	t.perMps = t.road.windward(p)
}

// cover takes the derivatives over an interval on the piece.
func (t *tangent) cover(i interval) {
	if !(i.to.atM > i.from.atM) {
		return
	}
	wheelW := i.powerW() * t.bike.Efficiency
	if t.held(&i) {
		t.square, t.arrivedW = gradient{}, wheelW
		return
	}
	d := drive{wheelW: wheelW, perW: t.bike.Efficiency}
	if t.road.Coasts(t.piece) {
		if i.from.speed+i.to.speed > 2*t.road.Conditions.CoastAboveMps {
			d.perW = 0
		}
		if same(i.from.speed, t.road.Conditions.CoastAboveMps) {
			t.switched(i.from.speed, wheelW)
		}
	}
	t.free(i.from.speed, i.to.speed, (i.to.atM-i.from.atM)/t.piece.Cos, d)
	t.arrivedW = wheelW
}

// held reports whether the speed is given all along an interval: the limit or the
// coasting speed. Along a limit the square of the speed is linear in the distance.
func (t *tangent) held(i *interval) bool {
	p, from, to := t.piece, i.from.speed, i.to.speed
	if t.road.Coasts(p) && same(from, t.road.Conditions.CoastAboveMps) && same(to, from) {
		return true
	}
	if math.IsInf(p.EndLimit, 1) {
		return false
	}
	start, end := (i.from.atM-p.StartM)/p.Cos, (i.to.atM-p.StartM)/p.Cos
	return same(float64(from*from), p.limitAt(start)) && same(float64(to*to), p.limitAt(end)) &&
		math.Abs(float64((i.to.timeS-i.from.timeS)*(from+to))-float64(2*(end-start))) <= onLine*(p.EndM-p.StartM)
}

// switched passes the coasting speed within a piece, where the power changes at a speed
// and not at a place: s⁺ = s⁻·f⁺/f⁻.
func (t *tangent) switched(v, wheelW float64) {
	ratio := t.drift(v, wheelW) / t.drift(v, t.arrivedW)
	if !(ratio >= 0 && ratio <= 1) {
		return // the power doesn't change here
	}
	for k := range t.square {
		t.square[k] *= ratio
	}
}

// drive is the power at the wheel, and what a watt more of the rider's adds to it.
type drive struct{ wheelW, perW float64 }

// drift is f, the slope of the square of the speed.
func (t *tangent) drift(v, wheelW float64) float64 {
	return float64(t.perInertia * (wheelW/v - t.resistance.Force(v)))
}

// free goes h metres from one speed to another at constant power.
func (t *tangent) free(from, to, h float64, d drive) {
	energy := t.energy(from)
	for {
		s := t.start(energy, d.wheelW)
		if s.launchTo > 0 && to > s.speed {
			top := min(s.launchTo, to)
			h -= t.launch(s.speed, top, d)
			if top == to {
				return
			}
			energy = t.energy(top)
			continue
		}
		step := t.stride(&s, h)
		if !(step < h) {
			t.step(h, s.speed, to, d)
			return
		}
		l := t.rungeKutta(&s, step)
		t.step(step, s.speed, t.speed(l.energy), d)
		energy = l.energy
		h -= step
	}
}

// step takes the derivatives over h metres between two speeds by the exponential of the
// midpoint's relaxation, exact for constant coefficients, and the clock by Simpson's
// rule.
func (t *tangent) step(h, from, to float64, d drive) {
	if !(from > 0 && to > 0) {
		return
	}
	square := float64((float64(from*from)+float64(to*to))/2) + float64(h/8*(t.drift(from, d.wheelW)-t.drift(to, d.wheelW)))
	mid := math.Sqrt(square)
	if !(mid > 0) {
		mid = (from + to) / 2
	}
	g, _ := t.push(mid, d)
	relaxed := h / 2 * (d.wheelW/float64(mid*mid) + t.resistance.Slope(mid)) / float64(mid*t.inertia)
	kept, gained := decay(relaxed)
	gained *= h / 2
	w := h / 12
	w0, w1, w2 := w/float64(from*from*from), 4*w/float64(mid*mid*mid), w/float64(to*to*to)
	for k, s := range t.square {
		add := float64(gained * g[k])
		half := float64(kept*s) + add
		whole := float64(kept*half) + add
		t.clock[k] -= float64(w0*s) + float64(w1*half) + float64(w2*whole)
		t.square[k] = whole
	}
}

// decay returns e^−z and (1 − e^−z)/z.
func decay(z float64) (kept, gained float64) {
	if math.Abs(z) < 1e-4 {
		return 1 - z + float64(z*z/2), 1 - z/2 + float64(z*z/6)
	}
	kept = elementary.Exp(-z)
	return kept, (1 - kept) / z
}

// push returns g, the derivatives of f at a speed, and f.
func (t *tangent) push(v float64, d drive) (gradient, float64) {
	r := &t.resistance
	air := v + r.HeadwindMps
	drag := float64(air * math.Abs(air))
	f := t.drift(v, d.wheelW)
	scale := t.perInertia
	return gradient{
		byMass:   -f/t.inertia - float64(scale*t.perKg),
		byPower:  scale * d.perW / v,
		byShare:  scale * d.wheelW / v,
		byCdA:    -scale * t.perM2 * drag,
		byCrr:    -scale * t.perCrr,
		byWarmth: -scale * t.perK * r.Drag * drag,
		byWind:   -2 * float64(scale*t.perMps) * r.Drag * math.Abs(air),
	}, f
}

// launch takes the derivatives from one speed up to another, and returns the distance.
// From rest the speed is the better variable: at a fixed speed the place and the clock
// move by −∫g/f dx and −∫g/f dt, smooth down to v = 0; a place that moves by X is
// δu = −f·X and δt = −X/v at a fixed place.
func (t *tangent) launch(from, to float64, d drive) (distance float64) {
	var place, clock gradient
	if from > 0 {
		f := t.drift(from, d.wheelW)
		for k, s := range t.square {
			place[k] = -s / f
			clock[k] = place[k] / from
		}
	}
	half := (to - from) / 2
	for i, node := range launchNodes {
		v := from + float64(half*(1+node))
		g, f := t.push(v, d)
		dt := 2 * float64(half*launchWeights[i]) / f // dv = f/2 dt
		dx := float64(v * dt)
		distance += dx
		for k := range g {
			place[k] -= float64(g[k] / f * dx)
			clock[k] -= float64(g[k] / f * dt)
		}
	}
	f := t.drift(to, d.wheelW)
	for k, x := range place {
		t.square[k] = -f * x
		t.clock[k] += clock[k] - x/to
	}
	return distance
}
