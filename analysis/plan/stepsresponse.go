package plan

import (
	"math"

	"parcours.example/analysis/elementary"
	"parcours.example/analysis/ride"
)

// response is a ride made linear: how its time and the rider's balance answer to small
// changes of the asked power. Between two samples the kinetic energy E follows
// dE/dx = ηP/v − F(v), so that a change of it dies away as
//
//	dδE/dx = ηδP/v − κ·δE,  κ = (ηP/v² + F′)/(M·v),  M = m + I/r²
//
// and moves the time by dδt/dx = −δE/(M·v³).
type response struct {
	*task
	bike    *ride.Bike
	reaches []reach
}

// reach is the way between two samples.
type reach struct {
	startM, endM float64
	// timeS, powerW and speedMps are the time it takes and the means on it.
	timeS, powerW, speedMps float64
	// keep is the share of an energy added at its start that is left at its end, gain
	// the energy at its end in J for each W.
	keep, gain float64
	// timeByJ and timeByW change its time, in s, by energy at its start and by power.
	timeByJ, timeByW float64
	// balanceKeep and balanceByS change the balance at its end by that at its start and
	// by time; spendByW and saveByW by power, above and below the threshold.
	balanceKeep, balanceByS, spendByW, saveByW float64
	// curb is half the curvature of the time lost by the power, in s/W²; see newReach.
	curb float64
	// lagM is 1/κ; price is what a joule is worth here, in s.
	lagM, price float64
}

// respond makes a ride of powers linear.
func (t *task) respond(r *ride.Ride, powers []ride.Step) *response {
	n := len(r.Trace.TimeS) - 1
	resp := &response{task: t, bike: &r.Bike, reaches: make([]reach, n)}
	piece, step := 0, 0
	resistance := r.Bike.On(&t.road.Pieces[0])
	for i := range n {
		mid := (r.Trace.DistanceM[i] + r.Trace.DistanceM[i+1]) / 2
		for piece < len(t.road.Pieces)-1 && t.road.Pieces[piece].EndM <= mid {
			piece++
			resistance = r.Bike.On(&t.road.Pieces[piece])
		}
		for step < len(powers)-1 && powers[step].EndM <= mid {
			step++
		}
		resp.reaches[i] = resp.newReach(&r.Trace, i, &t.road.Pieces[piece], &resistance, powers[step].PowerW)
	}
	return resp
}

// newReach makes the i-th reach linear. The curvature of the time lost is that of the
// second variation about a plan whose power is free. With the price μ of the work in
// s/J, the Hamiltonian (1 + μ(P − CP))/v + p·(ηP/v − F) is linear in the power, so that
// p = −μ/η and what is left depends on the speed alone:
//
//	H(v) = (1 − μCP)/v + μF/η,  H′ = 0:  v²F′ = η(1 − μCP)/μ,  μ = η/(v²F′ + ηCP)
//
// A speed that is off by δv costs ½H″δv² = μ/η·(F′/v + ½F″)·δv² on each metre, and a power
// that is off by δP for long puts it off by δv = ηvδP/(ηP + v²F′).
func (r *response) newReach(tr *ride.Trace, i int, p *ride.Piece, resistance *ride.Resistance, askedW float64) reach {
	x := reach{startM: tr.DistanceM[i], endM: tr.DistanceM[i+1], timeS: tr.TimeS[i+1] - tr.TimeS[i], powerW: tr.PowerW[i]}
	h := (x.endM - x.startM) / p.Cos
	v := h / x.timeS
	x.speedMps = v
	efficiency, inertia := r.bike.Efficiency, r.bike.InertiaKg
	slope := max(resistance.Slope(v), 1e-3)
	stiffness := float64(efficiency*max(x.powerW, 0)) + float64(v*v*slope)
	kappa := stiffness / (inertia * v * v * v)
	x.lagM = 1 / kappa
	decay := elementary.Exp(-kappa * h)
	x.keep = decay
	mean := (1 - decay) / kappa
	x.timeByJ = -mean / (inertia * v * v * v)
	x.price = r.priceAt(v, slope)
	gives := math.Abs(x.powerW-askedW) <= givenW
	if gives {
		push := efficiency / v
		x.gain = push * mean
		x.timeByW = -push * (h - mean) / (kappa * inertia * v * v * v)
		speedByW := efficiency * v / stiffness
		x.curb = x.price / efficiency * (slope/v + resistance.Drag) * speedByW * speedByW * h
	}
	if pinned(r.road, p, tr.SpeedMps[i], tr.SpeedMps[i+1]) {
		x.keep, x.gain = 0, 0
	}
	r.draw(&x, tr, i, gives)
	return x
}

// givenW is the difference in W within which the power asked is the power given.
const givenW = 0.5

// priceAt is what a joule of work is worth in s where the speed is v and the resistance
// rises by slope N for each m/s, if the power there is as good as any.
func (r *response) priceAt(v, slope float64) float64 {
	return r.bike.Efficiency / (float64(v*v*slope) + float64(r.bike.Efficiency*r.sustained()))
}

// pinned reports whether the speed at the end of a reach is the bend's or the coasting
// speed, whatever the power.
func pinned(road *ride.Road, p *ride.Piece, from, to float64) bool {
	const near = 1e-9
	if to*to >= p.EndLimit*(1-near) {
		return true
	}
	coast := road.Conditions.CoastAboveMps
	return !road.Conditions.Indoor && math.Abs(from-coast) <= near*coast && math.Abs(to-coast) <= near*coast
}

// draw sets how the balance answers, by the reserve's own law.
func (t *task) draw(x *reach, tr *ride.Trace, i int, gives bool) {
	x.balanceKeep, x.balanceByS = 1, t.sustained()-x.powerW
	x.spendByW, x.saveByW = -x.timeS, -x.timeS
	if math.IsNaN(t.limits.MeanPowerW) {
		w, c := tr.WBalanceJ[i], t.capacity
		if x.balanceByS >= 0 {
			const more = 1.0
			x.balanceKeep = (c.After(w+more, x.powerW, x.timeS) - tr.WBalanceJ[i+1]) / more
			x.balanceByS = (tr.WBalanceJ[i+1] - w) / x.timeS
		}
		easy := min(x.powerW, c.CriticalPowerW-easyW)
		saved := c.After(w, easy, x.timeS) - c.After(w, easy+1, x.timeS)
		x.saveByW = -min(max(saved, 0), x.timeS)
	}
	if !gives {
		x.spendByW, x.saveByW = 0, 0
	}
}

// easyW is how far below critical power the worth of recovery is taken at least: one
// law's is beyond bounds next to it.
const easyW = 10.0

// timeBy returns the derivatives of the time by the power on each reach.
func (r *response) timeBy() []float64 {
	out := make([]float64, len(r.reaches))
	onEnergy := 0.0
	for i := len(out) - 1; i >= 0; i-- {
		x := &r.reaches[i]
		out[i] = float64(onEnergy*x.gain) + x.timeByW
		onEnergy = float64(onEnergy*x.keep) + x.timeByJ
	}
	return out
}

// balanceBy returns the derivatives of the balance after the reaches up to last by the
// power on each, for powers above and below the threshold.
func (r *response) balanceBy(last int) (over, under []float64) {
	store := make([]float64, 2*last)
	over, under = store[:last:last], store[last:]
	onEnergy, onBalance := 0.0, 1.0
	for i := last - 1; i >= 0; i-- {
		x := &r.reaches[i]
		second := onBalance * x.balanceByS
		moved := float64(onEnergy*x.gain) + float64(second*x.timeByW)
		over[i] = moved + float64(onBalance*x.spendByW)
		under[i] = moved + float64(onBalance*x.saveByW)
		onEnergy = float64(onEnergy*x.keep) + float64(second*x.timeByJ)
		onBalance *= x.balanceKeep
	}
	return over, under
}
