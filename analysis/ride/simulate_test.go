package ride

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/course"
)

// rolling is a road of 8 km with bends and wind.
func rolling(t testing.TB) *Road {
	c := turned(even(8000, 800, hills(rand.New(rand.NewPCG(4, 4)), 15)), func(s float64) float64 { return 80 * math.Sin(s/150) })
	cond := conditions()
	cond.WindMps, cond.WindFromDeg = 4, 200
	return mustRoad(t, c, cond)
}

func codeOf(err error) string {
	var known *Error
	if errors.As(err, &known) {
		return known.Code
	}
	return ""
}

func TestHalts(t *testing.T) {
	wall := profile([]float64{0, 500, 600}, []float64{0, 0, 40})
	for name, c := range map[string]struct {
		course *course.Course
		power  float64
		start  float64
		atM    float64 // where it halts
		within float64
	}{
		"no power on the flat":              {slope(1000, 0), 0, 0, 0, 0},
		"too steep from the start":          {slope(1000, 0.3), 60, 0, 100, 5},
		"hardly any power":                  {slope(1000, 0.05), 1e-6, 0, 0, 1},
		"runs out on a slope without power": {slope(1000, 0.05), 0, 5, 22, 3},
		"a wall far from the start":         {wall, 50, 0, 520, 20},
		// x = m/2D·ln((R + D·8²)/(R + D·0.5²)) with D = 0.1987 kg/m and R = 3.39 N.
		"rolls out on the flat": {slope(5000, 0), 0, 8, 329, 2},
	} {
		cond := conditions()
		cond.StartSpeedMps = c.start
		_, err := Simulate(context.Background(), mustRoad(t, c.course, cond), rider(75), setup(), watts(c.power), nil)
		var halt *Error
		if !errors.As(err, &halt) || halt.Code != CodeCannotClimb {
			t.Errorf("%s: got %v, want %s", name, err, CodeCannotClimb)
			continue
		}
		near(t, name, halt.AtM, c.atM, c.within)
	}
}

func TestSlowStartsAreAllowed(t *testing.T) {
	// 0.4 m/s is a halt after 100 m, not before.
	ride := mustRide(t, mustRoad(t, slope(90, 0.2), conditions()), rider(75), setup(), watts(70))
	if ride.MeanSpeedMps > slowestMps {
		t.Errorf("%v m/s is no slow start", ride.MeanSpeedMps)
	}
}

func TestRefusals(t *testing.T) {
	flat := slope(1000, 0)
	north := turned(even(1000, 10, func(float64) float64 { return 0 }), func(float64) float64 { return 0 })
	compass := conditions()
	compass.WindMps, compass.WindFromDeg = 3, 90
	undirected := conditions()
	undirected.WindMps = 3
	badLoad := conditions()
	badLoad.LoadKg = -1
	for name, c := range map[string]struct {
		course     *course.Course
		conditions Conditions
		effort     Effort
		code       string
	}{
		"compass wind without positions": {flat, compass, watts(200), CodeWindNeedsPositions},
		"wind from nowhere":              {north, undirected, watts(200), CodeWindNeedsDirection},
		"negative load":                  {flat, badLoad, watts(200), CodeInvalid},
		"no power of their own":          {flat, conditions(), Effort{Kind: ByOwnPower}, CodeNeedsPower},
		"no critical power":              {flat, conditions(), Effort{Kind: ByFraction, OfCriticalPower: 1}, CodeNeedsCriticalPower},
		"no steps":                       {flat, conditions(), Effort{Kind: BySteps}, CodeInvalid},
		"steps that go back":             {flat, conditions(), Effort{Kind: BySteps, Steps: []Step{{500, 200}, {400, 300}}}, CodeInvalid},
		"NaN power":                      {flat, conditions(), watts(math.NaN()), CodeInvalid},
		"unknown effort":                 {flat, conditions(), Effort{Kind: "hope"}, CodeInvalid},
		"too fast a time":                {flat, conditions(), Effort{Kind: ByTime, TimeS: 10}, CodeTimeOutOfReach},
		"too slow a time":                {flat, conditions(), Effort{Kind: ByTime, TimeS: 1e5}, CodeTimeOutOfReach},
	} {
		road, err := NewRoad(c.course, c.conditions, nil)
		if err == nil {
			_, err = Simulate(context.Background(), road, rider(75), setup(), c.effort, nil)
		}
		if codeOf(err) != c.code {
			t.Errorf("%s: got %v, want %s", name, err, c.code)
		}
	}
}

func TestHeadwindNeedsNoPositions(t *testing.T) {
	cond := conditions()
	cond.HeadwindMps = 3
	calm := mustRide(t, mustRoad(t, slope(2000, 0), conditions()), rider(75), setup(), watts(200))
	windy := mustRide(t, mustRoad(t, slope(2000, 0), cond), rider(75), setup(), watts(200))
	if windy.TimeS <= calm.TimeS {
		t.Errorf("%v s against the wind, %v s without", windy.TimeS, calm.TimeS)
	}
}

func TestEffortsThatAreTheSame(t *testing.T) {
	road := rolling(t)
	r := rider(75)
	r.CriticalPowerW, r.PowerW = 300, 240
	want := mustRide(t, road, r, setup(), watts(240)).TimeS
	for name, e := range map[string]Effort{
		"fraction": {Kind: ByFraction, OfCriticalPower: 0.8},
		"own":      {Kind: ByOwnPower},
		"per mass": {Kind: ByMass, WPerKg: 3.2},
		"steps":    {Kind: BySteps, Steps: []Step{{1234.5, 240}, {4321, 240}}},
		"time":     {Kind: ByTime, TimeS: want},
	} {
		near(t, name, mustRide(t, road, r, setup(), e).TimeS, want, 2e-6)
	}
}

func TestStepsChangeWhereTheyEnd(t *testing.T) {
	ride := mustRide(t, rolling(t), rider(75), setup(), Effort{Kind: BySteps, Steps: []Step{{1003.25, 300}, {2500, 150}}})
	for i, at := range ride.Trace.DistanceM {
		want := 300.0
		if at >= 1003.25-tinyM {
			want = 150
		}
		if p := ride.Trace.PowerW[i]; p > want+1e-6 {
			t.Fatalf("%v W at %v m, asked for %v", p, at, want)
		}
	}
	speedAt(t, ride, 1003.25)
}

func TestSplits(t *testing.T) {
	spans := []Span{
		{Of: "part", StartM: 0, EndM: 8000},
		{Of: "climb", ID: "a", Pass: 1, StartM: 1234.5, EndM: 2000.25},
		{Of: "mark", ID: "m", Pass: 2, StartM: 6000, EndM: 6000},
		{Of: "mark", ID: "m", Pass: 1, StartM: 2000.25, EndM: 2000.25},
		{Of: "mark", ID: "n", Pass: 1, StartM: 7000, EndM: 7000},
		{Of: "part", StartM: 2000.25, EndM: 6000},
	}
	road := rolling(t)
	ride := mustRide(t, road, rider(75), setup(), watts(230), spans...)
	s := ride.Splits
	near(t, "the whole", s[0].TimeS, ride.TimeS, 0)
	near(t, "mean speed", s[0].MeanSpeedMps, ride.MeanSpeedMps, 1e-12)
	near(t, "mean power", s[0].MeanPowerW, ride.MeanPowerW, 1e-9)
	near(t, "clock at a climb's top and at the mark there", s[1].ClockS, s[3].TimeS, 0)
	near(t, "second pass", s[2].TimeS, s[2].ClockS-s[3].ClockS, 1e-9)
	near(t, "the same stretch", s[5].TimeS, s[2].TimeS, 1e-9)
	near(t, "another mark counts from the start", s[4].TimeS, s[4].ClockS, 0)
	rise := road.course.ElevationAt(2000.25) - road.course.ElevationAt(1234.5)
	near(t, "climbing rate", s[1].ClimbingRateMPerH, rise/s[1].TimeS*3600, 1e-9)
	// A split where a shorter road would end is the shorter ride's time.
	cut := profile([]float64{0, 700}, []float64{0, 20})
	long := profile([]float64{0, 700, 1500}, []float64{0, 20, 60})
	part := mustRide(t, mustRoad(t, long, conditions()), rider(75), setup(), watts(230), Span{StartM: 0, EndM: 700})
	near(t, "a cut road", mustRide(t, mustRoad(t, cut, conditions()), rider(75), setup(), watts(230)).TimeS, part.Splits[0].TimeS, 1e-9)
	if _, err := Simulate(context.Background(), road, rider(75), setup(), watts(230), []Span{{StartM: 5, EndM: 9000}}); codeOf(err) != CodeInvalid {
		t.Errorf("a span beyond the road: %v", err)
	}
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Simulate(ctx, rolling(t), rider(75), setup(), watts(200), nil); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

func TestFreewheeling(t *testing.T) {
	for _, c := range []struct {
		name           string
		gradient       float64
		power, fastest float64 // power and speed in the end
	}{
		{"−0.9 % is no descent", -0.009, 900, 0},
		{"−1 % is none either", -0.01, 900, 0},
		{"−1.1 % holds the speed", -0.011, -1, 14},
		{"−2 % holds the speed", -0.02, -1, 14},
		{"−8 % runs away without power", -0.08, 0, 0},
	} {
		cond := conditions()
		cond.CoastAboveMps = 14
		ride := mustRide(t, mustRoad(t, slope(8000, c.gradient), cond), rider(75), setup(), watts(900))
		n := len(ride.Trace.PowerW) - 1
		p, v := ride.Trace.PowerW[n], ride.Trace.SpeedMps[n]
		switch {
		case c.power < 0 && (p <= 0 || p >= 900), c.power >= 0 && math.Abs(p-c.power) > 1e-6, c.fastest > 0 && math.Abs(v-c.fastest) > 1e-9:
			t.Errorf("%s: %v W at %v m/s", c.name, p, v)
		}
		cond.Indoor = true
		indoor := mustRide(t, mustRoad(t, slope(8000, c.gradient), cond), rider(75), setup(), watts(900))
		near(t, "indoors the power is the asked", indoor.MeanPowerW, 900, 1e-9)
	}
}

func TestSurfaces(t *testing.T) {
	c := even(3000, 30, func(float64) float64 { return 0 })
	rough, err := NewRoad(c, conditions(), []Surface{{1005, 2000.5, 3}, {2900, 9000, 2}})
	if err != nil {
		t.Fatal(err)
	}
	smooth := mustRide(t, mustRoad(t, c, conditions()), rider(75), setup(), watts(200))
	ride := mustRide(t, rough, rider(75), setup(), watts(200))
	grip := smooth.Energy.RollingJ / 3000
	near(t, "rolling losses in J", ride.Energy.RollingJ, grip*(3000+2*995.5+100), 1e-6*ride.Energy.RollingJ)
	if _, err := NewRoad(c, conditions(), []Surface{{100, 300, 2}, {200, 400, 2}}); codeOf(err) != CodeInvalid {
		t.Errorf("overlapping surfaces: %v", err)
	}
}

func TestFourthPowerMean(t *testing.T) {
	// 60 s at 300 W, 60 s at nothing: by hand from the trailing means at whole seconds.
	timeS, workJ := []float64{0, 60, 120.4}, []float64{0, 18_000, 18_000}
	sum := 60 * math.Pow(300, 4)
	for k := 1; k <= 30; k++ {
		sum += math.Pow(300*float64(30-k)/30, 4)
	}
	near(t, "W", fourthPowerMean(timeS, workJ), math.Pow(sum/120, 0.25), 1e-9)
	near(t, "W in half a second", fourthPowerMean([]float64{0, 0.5}, []float64{0, 100}), 200, 1e-9)
	ride := mustRide(t, mustRoad(t, slope(5000, 0.02), conditions()), rider(75), setup(), watts(222))
	near(t, "constant power", ride.FourthPowerMeanW, 222, 1e-6)
}

func TestFeasible(t *testing.T) {
	r := rider(75)
	r.CriticalPowerW, r.WPrimeJ = 250, 10_000
	road := mustRoad(t, slope(10_000, 0.02), conditions())
	easy := mustRide(t, road, r, setup(), watts(250))
	near(t, "balance at critical power", easy.Balance.MinJ, 10_000, 1e-6)
	hard := mustRide(t, road, r, setup(), watts(300))
	near(t, "balance 50 W above", hard.Balance.EndJ, 10_000-50*hard.TimeS, 1e-6)
	if !easy.Feasible || hard.Feasible || hard.Balance.MinAtM != 10_000 {
		t.Errorf("feasible: easy %v, hard %v with the lowest balance at %v m", easy.Feasible, hard.Feasible, hard.Balance.MinAtM)
	}
}
