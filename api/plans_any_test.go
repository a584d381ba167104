package api_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/coursegen"
	"parcours.example/internal/seeded"
	"parcours.example/service/engine"
)

// anyPlan is a plan's request that was drawn, and what is known of it.
type anyPlan struct {
	body object
	// elevation is that of the course at a position; nil where there are positions.
	elevation func(atM float64) float64
	indoor    bool
	startMps  float64
	coastMps  float64
	from, to  float64
	// criticalW and wPrimeJ are the rider's, maxW is NaN where not given.
	criticalW, wPrimeJ, maxW float64
	// leastW, mostW, reserveJ, changeWPerS and meanW are NaN where not asked for.
	leastW, mostW, reserveJ, changeWPerS, meanW float64
}

// drawPlan draws a request: half of them over a table of elevations, half over a line
// with bends.
func drawPlan(t *testing.T, h *harness, seed uint64) anyPlan {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 0x706c616e))
	between := func(low, high float64) float64 { return math.Round(low + (high-low)*r.Float64()) }
	unset := math.NaN()
	p := anyPlan{
		criticalW: between(150, 380), wPrimeJ: between(6000, 28_000), maxW: unset, leastW: unset, mostW: unset,
		reserveJ: unset, changeWPerS: unset, meanW: unset, coastMps: 17,
	}
	rider := object{
		"mass_kg": between(50, 95), "critical_power_w": p.criticalW, "w_prime_j": p.wPrimeJ,
		"recovery_rate": 0.5 + 1.5*r.Float64(), "recovery_law": pick(r, []string{"proportional", "proportional", "bartram_2018"}),
	}
	conditions, bounds := object{}, object{}
	p.body = object{"riders": []any{rider}, "conditions": conditions}
	if r.IntN(2) == 0 {
		p.maxW = between(500, 1300)
		rider["max_power_w"] = p.maxW
	}
	if r.IntN(3) == 0 {
		p.startMps = between(2, 12)
		conditions["start_speed_mps"] = p.startMps
	}
	if p.indoor = r.IntN(4) == 0; p.indoor {
		conditions["indoor"] = true
	} else if r.IntN(2) == 0 {
		p.coastMps = between(12, 16)
		conditions["coast_above_mps"] = p.coastMps
	}
	if r.IntN(2) == 0 {
		p.drawTable(r, between(1000, 7000))
	} else {
		p.drawLine(t, h, r)
	}
	switch r.IntN(6) {
	case 0:
		p.mostW = between(1.2*p.criticalW, 3*p.criticalW)
		bounds["max_power_w"] = p.mostW
	case 1:
		p.leastW = between(0, 0.6*p.criticalW)
		bounds["min_power_w"] = p.leastW
	case 2:
		p.changeWPerS = between(5, 100)
		bounds["change_w_per_s"] = p.changeWPerS
	case 3:
		p.reserveJ = between(0, 0.6*p.wPrimeJ)
		p.body["end_reserve_j"] = p.reserveJ
	case 4:
		p.meanW = between(0.8*p.criticalW, p.criticalW)
		bounds["mean_power_w"] = p.meanW
	}
	p.body["bounds"] = bounds
	return p
}

// drawTable makes the course a table over some waves, of which a stretch is ridden.
func (p *anyPlan) drawTable(r *rand.Rand, lengthM float64) {
	var waves [3][3]float64
	for i := range waves {
		waves[i] = [3]float64{300 + 3000*r.Float64(), 6.3 * r.Float64(), 0.06 * r.Float64()}
	}
	rise := 0.05 * (r.Float64() - 0.3)
	z := func(s float64) float64 {
		z := 300 + rise*s
		for _, w := range waves {
			z += w[0] / 6.3 * w[2] / 2 * math.Sin(6.3*s/w[0]+w[1])
		}
		return z
	}
	var distance, elevation []float64
	for s := 0.0; s <= lengthM; s += 25 {
		distance, elevation = append(distance, s), append(elevation, z(s))
	}
	p.elevation = func(atM float64) float64 {
		i := min(int(atM/25), len(distance)-2)
		return elevation[i] + (elevation[i+1]-elevation[i])*(atM-distance[i])/25
	}
	p.body["course"] = object{"profile": object{"distance_m": distance, "elevation_m": elevation}, "options": object{"smoothing": "none"}}
	p.from, p.to = 0, distance[len(distance)-1]
	if r.IntN(3) == 0 {
		p.from = math.Round(p.to * 0.3 * r.Float64())
		p.to -= math.Round(p.to * 0.3 * r.Float64())
		p.body["start_m"], p.body["end_m"] = p.from, p.to
	}
}

// drawLine makes the course a line with bends, of which a stretch is ridden.
func (p *anyPlan) drawLine(t *testing.T, h *harness, r *rand.Rand) {
	kinds := coursegen.Kinds()
	line, _ := coursegen.Random(kinds[r.IntN(len(kinds))], r.Uint64())
	points := coursegen.Record(line, coursegen.Noise{IntervalS: 2}, 1)
	points = points[:min(len(points), 600)]
	p.body["course"] = object{"course_id": analyse(t, h, coursegen.GPX("Drawn", points, 2, nil))}
	c := ask[struct {
		DistanceM float64 `json:"distance_m"`
	}](t, h, "/v1/predictions", with(p.body, object{"effort": object{"kind": "power", "power_w": 4000.0}}))
	p.to = min(c.DistanceM, 6000)
	p.body["end_m"] = p.to
	if !p.indoor && r.IntN(2) == 0 {
		conditions := p.body["conditions"].(object)
		conditions["wind_mps"], conditions["wind_from_deg"] = 6*r.Float64(), 360*r.Float64()
	}
}

// TestAnyPlanIsFeasible demands of plans over drawn courses, riders, conditions and
// bounds that nothing in the answer goes beyond what the rider can do and what was asked
// for, recomputed from the answer alone, and that neither the plan nor its steps are
// slower than the best constant power.
func TestAnyPlanIsFeasible(t *testing.T) {
	n, first := seeded.Cases(500), seeded.First(t)
	h := newHarness(t, engine.Config{})
	var gain, lost, steps float64
	for i := range n {
		seed := first + uint64(i)
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			p := drawPlan(t, h, seed)
			told := ask[plans](t, h, "/v1/plans?include=trace", p.body).Plans[0]
			if told.Problem != nil {
				t.Fatal(told.Problem)
			}
			p.check(t, "plan", told.Trace, told.ridden)
			p.check(t, "steps", told.StepsTrace, ridden{
				TimeS: told.StepsTimeS, Feasible: told.StepsWBalanceMinJ >= 0, WBalanceMinJ: told.StepsWBalanceMinJ, WBalanceEndJ: told.StepsWBalanceEndJ,
			})
			p.checkSteps(t, told)
			again := predicted(t, h, with(p.body, object{"bounds": nil, "end_reserve_j": nil, "effort": told.Trace.asSteps()}))
			near(t, "the trace posted again", again.TimeS, told.TimeS)
			near(t, "the steps' trace posted again", predicted(t, h, with(p.body, object{"bounds": nil, "end_reserve_j": nil, "effort": told.StepsTrace.asSteps()})).TimeS, told.StepsTimeS)
			held := predicted(t, h, with(p.body, object{"bounds": nil, "end_reserve_j": nil, "effort": object{"kind": "steps", "steps": told.Steps}}))
			if math.IsNaN(p.changeWPerS) { // else the power goes over from step to step
				near(t, "the steps posted again", held.TimeS, told.StepsTimeS)
			}
			if math.IsNaN(p.meanW) && !held.Feasible {
				t.Errorf("the steps posted again: a balance of %v J, told as %v J", held.WBalanceMinJ, told.StepsWBalanceMinJ)
			}
			gain, lost, steps = gain+told.GainS/told.TimeS, lost+told.LostByStepsS/told.TimeS, steps+float64(len(told.Steps))
		})
	}
	t.Logf("%d plans: %.2f %% faster than constant power, %.2f %% lost by %.1f steps on average", n, 100*gain/float64(n), 100*lost/float64(n), steps/float64(n))
}

// check holds a trace against what was asked for and what the answer says of it.
func (p anyPlan) check(t *testing.T, what string, tr *trace, told ridden) {
	t.Helper()
	last := len(tr.TimeS) - 1
	if math.Abs(tr.DistanceM[0]-p.from) > 0.002 || math.Abs(tr.DistanceM[last]-p.to) > 0.002 || math.Abs(tr.TimeS[last]-told.TimeS) > 0.002 {
		t.Errorf("%s: from %v m to %v m in %v s, told %v s from %v m to %v m", what, tr.DistanceM[0], tr.DistanceM[last], tr.TimeS[last], told.TimeS, p.from, p.to)
	}
	if p.indoor && math.Abs(tr.SpeedMps[0]-p.startMps) > 0.001 || tr.SpeedMps[0] > p.startMps+0.001 {
		t.Errorf("%s starts at %v m/s, asked for %v", what, tr.SpeedMps[0], p.startMps)
	}
	work, least := 0.0, math.Inf(1)
	for i := range last {
		power, dt := tr.PowerW[i], tr.TimeS[i+1]-tr.TimeS[i]
		work += power * dt
		least = min(least, tr.WBalanceJ[i+1])
		if limit := p.limitW(tr.WBalanceJ[i+1]); power > limit+0.05 {
			t.Fatalf("%s: %v W at %v m, above the limit of %v W at a balance of %v J", what, power, tr.DistanceM[i], limit, tr.WBalanceJ[i+1])
		}
		if p.indoor && power < p.leastW-0.01 {
			t.Fatalf("%s: %v W at %v m, below the least of %v W", what, power, tr.DistanceM[i], p.leastW)
		}
		if p.coasts(tr, i) && power > 0.01 {
			t.Fatalf("%s: %v W at %v m and %v m/s, where nobody pedals", what, power, tr.DistanceM[i], tr.SpeedMps[i])
		}
	}
	if p.indoor && what == "plan" {
		p.checkChanges(t, tr)
	}
	if !math.IsNaN(p.meanW) {
		if mean := work / tr.TimeS[last]; mean > p.meanW+0.05 {
			t.Errorf("%s: a mean of %v W, asked for %v W", what, mean, p.meanW)
		}
		return
	}
	if end := tr.WBalanceJ[last]; !told.Feasible || least < 0 || told.WBalanceMinJ < 0 || end < p.reserveJ-0.01 || math.Abs(end-told.WBalanceEndJ) > 0.01 {
		t.Errorf("%s: the balance is %v J at the end and %v J at least, told %v J and %v J, asked for %v J", what, end, least, told.WBalanceEndJ, told.WBalanceMinJ, p.reserveJ)
	}
	if p.body["riders"].([]any)[0].(object)["recovery_law"] == "proportional" {
		p.checkBalance(t, what, tr)
	}
}

// limitW is the highest power at a balance of W′ within the bounds.
func (p anyPlan) limitW(balanceJ float64) float64 {
	limit := 4 * p.criticalW
	switch {
	case !math.IsNaN(p.meanW):
		limit = math.Inf(1)
	case !math.IsNaN(p.maxW):
		limit = p.criticalW + (p.maxW-p.criticalW)*balanceJ/p.wPrimeJ
	}
	if p.mostW < limit {
		limit = p.mostW
	}
	return limit
}

// coasts reports whether the rule of freewheeling forbids power after sample i: downhill
// and faster than it allows at both ends. Where there are positions, the gradients aren't
// known here.
func (p anyPlan) coasts(tr *trace, i int) bool {
	if p.elevation == nil || p.indoor {
		return false
	}
	from, to := tr.DistanceM[i], tr.DistanceM[i+1]
	gradient := (p.elevation(to) - p.elevation(from)) / (to - from)
	return to-from > 0.1 && gradient < -0.0105 && min(tr.SpeedMps[i], tr.SpeedMps[i+1]) > p.coastMps+0.01
}

// checkChanges demands that the power changes no faster than asked for, from the middle of
// a stretch at one power to the middle of the next, to the rounding of the answer.
func (p anyPlan) checkChanges(t *testing.T, tr *trace) {
	t.Helper()
	type hold struct{ powerW, forS float64 }
	var last, this hold
	for i := 1; i < len(tr.TimeS); i++ {
		forS := tr.TimeS[i] - tr.TimeS[i-1]
		if i > 1 && math.Abs(tr.PowerW[i-1]-this.powerW) < 0.01 {
			this.forS += forS
			continue
		}
		if change := math.Abs(this.powerW - last.powerW); last.forS > 0 && change > p.changeWPerS*(last.forS+this.forS)/2*1.02+0.1 {
			t.Errorf("at %v m %v W held for %v s after %v W for %v s, asked for %v W/s", tr.DistanceM[i-1], this.powerW, this.forS, last.powerW, last.forS, p.changeWPerS)
		}
		last, this = this, hold{tr.PowerW[i-1], forS}
	}
}

// checkBalance recomputes the balance of W′ by small steps (midpoint rule) of its differential
// form.
func (p anyPlan) checkBalance(t *testing.T, what string, tr *trace) {
	t.Helper()
	rate := p.body["riders"].([]any)[0].(object)["recovery_rate"].(float64)
	w, worst := p.wPrimeJ, 0.0
	for i := range len(tr.TimeS) - 1 {
		const parts = 20
		dt := (tr.TimeS[i+1] - tr.TimeS[i]) / parts
		change := func(w float64) float64 {
			if over := tr.PowerW[i] - p.criticalW; over > 0 {
				return -over
			}
			return (1 - w/p.wPrimeJ) * rate * (p.criticalW - tr.PowerW[i])
		}
		for range parts {
			w += change(w+change(w)*dt/2) * dt
		}
		worst = max(worst, math.Abs(w-tr.WBalanceJ[i+1]))
	}
	if worst > 0.001*p.wPrimeJ { // times are rounded to milliseconds
		t.Errorf("%s: the balance differs by %v J from one computed from its powers", what, worst)
	}
}

// checkSteps demands that the steps cover the ride, can be read, and are no slower than
// constant power.
func (p anyPlan) checkSteps(t *testing.T, told planned) {
	t.Helper()
	at := p.from
	for i, s := range told.Steps {
		if math.Abs(s.StartM-at) > 0.0011 || s.EndM <= s.StartM || s.Of == "" || s.Reason == "" || s.TimeS <= 0 {
			t.Errorf("step %d: %+v, after one that ends at %v m", i, s, at)
		}
		at = s.EndM
	}
	if math.Abs(at-p.to) > 0.0011 {
		t.Errorf("the steps end at %v m, the ride at %v m", at, p.to)
	}
	for what, timeS := range map[string]float64{"the plan": told.TimeS, "the steps": told.StepsTimeS} {
		if timeS > told.ConstantPowerTimeS+0.002 {
			t.Errorf("%s takes %v s, the best constant power %v s", what, timeS, told.ConstantPowerTimeS)
		}
	}
	for _, s := range told.Splits {
		if s.StartM < p.from-0.001 || s.EndM > p.to+0.001 || s.StartM > s.EndM {
			t.Errorf("a split from %v m to %v m of a ride from %v m to %v m", s.StartM, s.EndM, p.from, p.to)
		}
	}
}
