package hindsight

import (
	"math"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/ridden"
	"parcours.example/analysis/ride"
)

var unset = math.NaN()

func calm() ride.Conditions {
	return ride.Conditions{
		TemperatureC: unset, PressureHPa: unset, HumidityPct: unset, AirDensityKgM3: unset, WindMps: unset, WindFromDeg: unset,
		RoughnessM: unset, HeadwindMps: unset, Shelter: unset, LoadKg: unset, StartSpeedMps: unset, CoastAboveMps: unset,
		LateralMps2: unset, BrakingMps2: unset,
	}
}

func nour() ride.Rider {
	return ride.Rider{
		MassKg: 64, HeightM: unset, CdAM2: 0.31, PowerW: unset, CriticalPowerW: 250, WPrimeJ: 16000, MaxPowerW: unset,
		RecoveryRate: unset, GrossEfficiency: unset,
	}
}

func allround() ride.Setup {
	return ride.Setup{
		MassKg: 8, CdAM2: unset, CdAChangeM2: unset, Crr: 0.004, DrivetrainEfficiency: unset, WheelInertiaKgM2: unset,
		WheelRadiusM: unset, WheelDragAreaM2: unset, BearingN: unset, BearingNsPerM: unset,
	}
}

// waves is a road of 20 km over waves, with a climb at its end.
func waves(t *testing.T) *ride.Road {
	t.Helper()
	c := &course.Course{}
	for i := range 2001 {
		s := float64(i) * 10
		c.S = append(c.S, s)
		c.Z = append(c.Z, 100+12*math.Sin(s/450)+max(0, s-16000)*0.05)
	}
	road, err := ride.NewRoad(c, calm(), nil)
	if err != nil {
		t.Fatal(err)
	}
	return road
}

// recorded writes a simulated ride down once a second.
func recorded(r *ride.Ride) ridden.Ride {
	t := r.Trace
	var out ridden.Ride
	k, power := 0, t.PowerW[0]
	for s := 0.0; ; s++ {
		s = min(s, r.TimeS)
		for k+2 < len(t.TimeS) && t.TimeS[k+1] <= s {
			k++
		}
		share := (s - t.TimeS[k]) / (t.TimeS[k+1] - t.TimeS[k])
		out.Points = append(out.Points, ridden.Point{
			TimeS: s, AtM: t.DistanceM[k] + share*(t.DistanceM[k+1]-t.DistanceM[k]),
			SpeedMPS: t.SpeedMps[k] + share*(t.SpeedMps[k+1]-t.SpeedMps[k]), PowerW: power,
		})
		power = t.PowerW[k]
		if s == r.TimeS {
			return out
		}
	}
}

var spans = []ride.Span{
	{Of: "part", ID: "whole", StartM: 0, EndM: 20000},
	{Of: "climb", ID: "climb-1", Pass: 1, StartM: 16000, EndM: 20000},
	{Of: "mark", ID: "mill", Pass: 1, StartM: 9000, EndM: 9000},
}

func ridden0(t *testing.T, road *ride.Road, rider ride.Rider, setup ride.Setup, effort ride.Effort) *ride.Ride {
	t.Helper()
	r, err := ride.Simulate(t.Context(), road, rider, setup, effort, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func examine(t *testing.T, c Case) *Account {
	t.Helper()
	a, err := Examine(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	check := func(what string, p Parts, want float64) {
		if math.Abs(p.Sum()-want) > 1e-6 {
			t.Errorf("%s: the parts sum to %v, the difference is %v", what, p.Sum(), want)
		}
	}
	check("whole", a.Parts, a.RiddenS-a.PredictedS)
	for _, s := range a.Splits {
		check(s.ID, s.Parts, s.RiddenS-s.PredictedS)
	}
	return a
}

func watts(w float64) ride.Effort { return ride.Effort{Kind: ride.ByPower, PowerW: w} }

// A ride that went as predicted has nothing to explain.
func TestNothingToExplain(t *testing.T) {
	road := waves(t)
	varied := ride.Effort{Kind: ride.BySteps, Steps: []ride.Step{{EndM: 5000, PowerW: 260}, {EndM: 16000, PowerW: 200}, {EndM: 20000, PowerW: 290}}}
	for _, effort := range []ride.Effort{watts(230), varied} {
		a := examine(t, Case{
			Road: road, Rider: nour(), Setup: allround(), Effort: effort, Spans: spans, CdAM2: 0.31, Crr: 0.004,
			Ridden: recorded(ridden0(t, road, nour(), allround(), effort)),
		})
		for _, s := range append(a.Splits, Split{Parts: a.Parts, PredictedS: a.PredictedS}) {
			p, near := s.Parts, 0.0005*s.PredictedS
			for _, v := range []float64{p.StartS, p.PowerS, p.PacingS, p.DragS, p.RollingS, p.ShelterS, p.StopsS, p.RestS} {
				if math.Abs(v) > near {
					t.Errorf("%s %s: %+v, want nothing within %.2f s", effort.Kind, s.ID, p, near)
				}
			}
		}
	}
}

// What differs is found in its own part, and the others stay empty.
func TestEachThingInItsPart(t *testing.T) {
	road := waves(t)
	rolling := func(crr float64) ride.Setup { s := allround(); s.Crr = crr; return s }
	upright := nour()
	upright.CdAM2 = 0.36
	quick := *road
	quick.Conditions.StartSpeedMps = 9
	lees := []Lee{{3000, 6000, 0.7}, {9000, 12000, 0.6}}
	bunch := Case{Rider: nour(), Setup: allround(), CdAM2: unset, Crr: unset, Lees: lees}
	sheltered, err := ride.SimulateStints(t.Context(), road, nour(), stints(bunch, road), watts(230), nil)
	if err != nil {
		t.Fatal(err)
	}
	split := ride.Effort{Kind: ride.BySteps, Steps: []ride.Step{{EndM: 10000, PowerW: 260}, {EndM: 20000, PowerW: 205}}}
	base := Case{Road: road, Rider: nour(), Setup: allround(), Effort: watts(230), Spans: spans, CdAM2: unset, Crr: unset}
	learning := func(cda, crr float64) Case { c := base; c.CdAM2, c.Crr = cda, crr; return c }
	leeward := base
	leeward.Lees = lees
	cases := []struct {
		name   string
		ridden *ride.Ride
		asked  Case
		of     func(Parts) float64
		sign   float64
	}{
		{"power", ridden0(t, road, nour(), allround(), watts(215)), base, func(p Parts) float64 { return p.PowerS }, 1},
		{"start", ridden0(t, &quick, nour(), allround(), watts(230)), base, func(p Parts) float64 { return p.StartS }, -1},
		{"pacing", ridden0(t, road, nour(), allround(), split), base, func(p Parts) float64 { return p.PacingS + p.PowerS }, 1},
		{"drag", ridden0(t, road, upright, allround(), watts(230)), learning(0.36, 0.004), func(p Parts) float64 { return p.DragS }, 1},
		{"rolling", ridden0(t, road, nour(), rolling(0.0055), watts(230)), learning(unset, 0.0055), func(p Parts) float64 { return p.RollingS }, 1},
		{"unlearnt drag", ridden0(t, road, upright, allround(), watts(230)), base, func(p Parts) float64 { return p.RestS }, 1},
		{"shelter", sheltered, leeward, func(p Parts) float64 { return p.ShelterS }, -1},
	}
	for _, c := range cases {
		c.asked.Ridden = recorded(c.ridden)
		a := examine(t, c.asked)
		whole := a.RiddenS - a.PredictedS
		if got := c.of(a.Parts); got*c.sign < 2 || math.Abs(got-whole) > 0.03*math.Abs(whole)+0.0005*a.PredictedS {
			t.Errorf("%s: %v s of %v s, all parts %+v", c.name, got, whole, a.Parts)
		}
	}
}

// Time spent standing is a part of its own, on the whole and on the span where it was spent.
func TestStops(t *testing.T) {
	road := waves(t)
	r := recorded(ridden0(t, road, nour(), allround(), watts(230)))
	var p []ridden.Point
	for i, q := range r.Points {
		if i >= 1500 {
			q.TimeS += 90.5
		}
		p = append(p, q)
		if i == 1499 {
			q.Stopped, q.SpeedMPS, q.PowerW = true, 0, 0
			q.TimeS += 90.5
			p = append(p, q)
		}
	}
	a := examine(t, Case{Road: road, Rider: nour(), Setup: allround(), Effort: watts(230), Spans: spans, CdAM2: unset, Crr: unset, Ridden: ridden.Ride{Points: p}})
	at := r.Points[1499].AtM
	if at < 9000 || at > 16000 {
		t.Fatalf("it stands at %v m", at)
	}
	for what, got := range map[string]float64{"whole": a.Parts.StopsS - 90.5, "climb": a.Splits[1].Parts.StopsS, "mill": a.Splits[2].Parts.StopsS} {
		if math.Abs(got) > 1 {
			t.Errorf("%s: stops are off by %v s", what, got)
		}
	}
	if math.Abs(a.Parts.RestS) > 1.5 || math.Abs(a.RiddenS-a.MovingS-90.5) > 1 {
		t.Errorf("rest %v s, %v s of stops", a.Parts.RestS, a.RiddenS-a.MovingS)
	}
}

// Gaps of the power are filled and told; without any power only stops are told apart.
func TestUnknownPower(t *testing.T) {
	road := waves(t)
	r := recorded(ridden0(t, road, nour(), allround(), watts(230)))
	for i := 600; i < 660; i++ {
		r.Points[i].PowerW = math.NaN()
	}
	c := Case{Road: road, Rider: nour(), Setup: allround(), Effort: watts(230), Spans: spans, CdAM2: unset, Crr: unset, Ridden: r}
	a := examine(t, c)
	if got, want := a.UnknownPowerShare, 60/a.MovingS; math.Abs(got-want) > 1e-9 || math.Abs(a.RiddenPowerW-230) > 1 || math.Abs(a.Parts.RestS) > 1 {
		t.Errorf("unknown %v, want %v; %v W; %+v", got, want, a.RiddenPowerW, a.Parts)
	}
	for i := range r.Points {
		r.Points[i].PowerW = math.NaN()
	}
	a = examine(t, c)
	if !math.IsNaN(a.RiddenPowerW) || a.Same != nil || a.Balance != nil || a.Parts.RestS != a.MovingS-a.PredictedS {
		t.Errorf("without power: %+v", a)
	}
}

// A power that doesn't carry its rider up is averaged, or told with the place.
func TestPowerThatDoesNotCarry(t *testing.T) {
	road := waves(t)
	r := recorded(ridden0(t, road, nour(), allround(), watts(230)))
	flick := ridden.Ride{Points: append([]ridden.Point(nil), r.Points...)}
	for i := range flick.Points {
		flick.Points[i].PowerW = 460 * float64(i/20%2)
	}
	c := Case{Road: road, Rider: nour(), Setup: allround(), Effort: watts(230), Spans: spans, CdAM2: unset, Crr: unset, Ridden: flick}
	if a := examine(t, c); a.Same == nil {
		t.Errorf("on and off: %+v", a.Halt)
	}
	for i := range r.Points {
		if r.Points[i].AtM > 16500 {
			r.Points[i].PowerW = 1
		}
	}
	c.Ridden = r
	if a := examine(t, c); a.Same != nil || a.Halt == nil || a.Halt.AtM < 16500 || a.Parts.PowerS != 0 || a.Parts.PacingS != 0 {
		t.Errorf("no power on the climb: %+v, %+v", a.Halt, a.Parts)
	}
}

// The balance of W′ is that of the rider's own prediction, and the plan is faster.
func TestBalanceAndPlan(t *testing.T) {
	road := waves(t)
	effort := ride.Effort{Kind: ride.BySteps, Steps: []ride.Step{{EndM: 3000, PowerW: 280}, {EndM: 20000, PowerW: 225}}}
	truth := ridden0(t, road, nour(), allround(), effort)
	a := examine(t, Case{Road: road, Rider: nour(), Setup: allround(), Effort: watts(230), CdAM2: 0.31, Crr: 0.004, Ridden: recorded(truth), Plans: true})
	if a.Balance == nil || math.Abs(a.Balance.MinJ-truth.Balance.MinJ) > 100 || math.Abs(a.Balance.EndJ-truth.Balance.EndJ) > 100 {
		t.Errorf("balance %+v, want %+v", a.Balance.MinJ, truth.Balance)
	}
	if a.Plan == nil || a.Plan.Err != nil || a.Plan.TimeS >= a.Plan.AsRiddenS {
		t.Errorf("plan %+v", a.Plan)
	}
}
