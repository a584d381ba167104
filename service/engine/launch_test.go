package engine

import (
	"context"
	"errors"
	"math"
	"os"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/launch"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/terrain"
)

// toLine is a line of which nothing but its place is given.
func toLine(place Place) LaunchLine {
	unknown := math.NaN()
	return LaunchLine{At: place, ApproachM: unknown, ApproachS: unknown, SpeedMps: unknown, Demand: unknown, Shelter: unknown}
}

func finish() Place {
	return Place{AtM: math.NaN(), StartM: math.NaN(), EndM: math.NaN(), Finish: true}
}

func markPlace(id string) Place {
	return Place{AtM: math.NaN(), StartM: math.NaN(), EndM: math.NaN(), MarkID: id}
}

func point(atM float64) Place { return Place{AtM: atM, StartM: math.NaN(), EndM: math.NaN()} }

// sprintOn asks for the sprints of two riders to a line of a course.
func sprintOn(source CourseSource, lines ...LaunchLine) LaunchRequest {
	fast := able(72, 300, 20_000)
	fast.MaxPowerW = 1200
	return LaunchRequest{Course: source, Riders: []ride.Rider{fast, able(60, 240, 15_000)}, Conditions: UnstatedConditions(), Lines: lines}
}

// laps is a circuit of 1 km ridden five times, with a sprint line in its middle.
func laps(t testing.TB, e *Engine) (CourseSource, *Course) {
	t.Helper()
	opt := course.Defaults()
	opt.Smoothing, opt.Laps = course.None, 5
	source := CourseSource{
		Profile: &Profile{DistanceM: []float64{0, 200, 500, 700, 1000}, ElevationM: []float64{50, 50, 74, 74, 50}},
		Options: CourseOptions{Options: opt},
	}
	c, err := e.Course(t.Context(), source)
	if err != nil {
		t.Fatal(err)
	}
	return source, c
}

func TestLaunch(t *testing.T) {
	e := newEngine(t, Config{})
	r := sprintOn(fromFile(gpx("Oster loop", 200)), toLine(finish()), toLine(point(1500)))
	r.Setups = []ride.Setup{unstatedSetup(), unstatedSetup()}
	got, err := e.Launch(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Items) != 8 || len(got.Model) == 0 || got.Recommendation == "" {
		t.Fatalf("%d launches, a model of %d sentences, %q", len(got.Items), len(got.Model), got.Recommendation)
	}
	for i, item := range got.Items {
		if item.Err != nil || item.Sprint == nil || item.HeadPowerW < 0 || len(item.Inclines) == 0 || len(item.Wheels) != 4 {
			t.Errorf("launch %d: %+v", i, item)
		}
		if !math.IsNaN(item.Sprint.LostM) {
			t.Errorf("launch %d: the wheel is lost %v m before the line at the usual speed", i, item.Sprint.LostM)
		}
		if item.LineIndex != i/4 || item.RiderIndex != i/2%2 || item.SetupIndex != i%2 {
			t.Errorf("launch %d is of line %d, rider %d, set-up %d", i, item.LineIndex, item.RiderIndex, item.SetupIndex)
		}
	}
	if len(got.Warnings) != 1 || got.Warnings[0].Pointer != "#/riders/1/max_power_w" {
		t.Errorf("warnings %v", got.Warnings)
	}
	if e.runs(t, stageLaunch) != 1 {
		t.Error("the time of launches isn't told")
	}
	again, err := e.Launch(t.Context(), r)
	if err != nil || again.Items[0].Sprint.TimeS != got.Items[0].Sprint.TimeS || again.Recommendation != got.Recommendation {
		t.Errorf("the same again differs, %v", err)
	}
}

// In another order of riders each has the same launch.
func TestLaunchesDontDependOnTheOrder(t *testing.T) {
	e := newEngine(t, Config{})
	r := sprintOn(fromFile(gpx("Oster loop", 200)), toLine(finish()))
	forth, err := e.Launch(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	r.Riders = []ride.Rider{r.Riders[1], r.Riders[0]}
	back, err := e.Launch(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 2 {
		if a, b := forth.Items[i].Sprint.Best, back.Items[1-i].Sprint.Best; a != b {
			t.Errorf("%+v, in another order %+v", a, b)
		}
	}
}

// Passes that are ridden alike are answered once, and what is answered holds for each.
func TestLaunchesOfPasses(t *testing.T) {
	e := newEngine(t, Config{})
	source, c := laps(t, e)
	climb := c.Terrain.Climbs[0].ID
	r := sprintOn(source, toLine(Place{AtM: math.NaN(), StartM: math.NaN(), EndM: math.NaN(), ClimbID: climb}))
	all, err := e.Launch(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	told := 0
	for _, item := range all.Items[:len(all.Items)/2] {
		told += len(item.Passes)
	}
	if len(all.Items) > 4 || len(all.Items[len(all.Items)-1].Passes) < 4 {
		t.Fatalf("%d launches, the last of %d passes", len(all.Items), len(all.Items[len(all.Items)-1].Passes))
	}
	last := all.Items[len(all.Items)-2]
	for _, p := range last.Passes {
		r.Lines[0].At.Pass = p.Pass
		one, err := e.Launch(t.Context(), r)
		if err != nil {
			t.Fatal(err)
		}
		if diff := math.Abs(one.Items[0].Sprint.TimeS - last.Sprint.TimeS); diff > launch.FlatS || one.Items[0].Passes[0] != p {
			t.Errorf("pass %d by itself takes %v s more or less", p.Pass, diff)
		}
	}
}

// What a request contradicts or lacks is refused with its place.
func TestFaultsOfLaunches(t *testing.T) {
	e := newEngine(t, Config{Limits: Limits{Launches: 5}})
	source, c := laps(t, e)
	for _, bad := range []struct {
		pointer string
		change  func(r *LaunchRequest)
	}{
		{"#/riders/0/critical_power_w", func(r *LaunchRequest) { r.Riders[0].CriticalPowerW = math.NaN() }},
		{"#/riders/1/w_prime_j", func(r *LaunchRequest) { r.Riders[1].WPrimeJ = math.NaN() }},
		{"#/riders/0/max_power_w", func(r *LaunchRequest) { r.Riders[0].MaxPowerW = 250 }},
		{"#/riders/1/recovery_law", func(r *LaunchRequest) { r.Riders[1].RecoveryLaw = ride.Integral2012 }},
		{"#/conditions/shelter", func(r *LaunchRequest) { r.Conditions.Shelter = 0.7 }},
		{"#/conditions/start_speed_mps", func(r *LaunchRequest) { r.Conditions.StartSpeedMps = 3 }},
		{"#/conditions/coast_above_mps", func(r *LaunchRequest) { r.Conditions.CoastAboveMps = 17 }},
		{"#/conditions/wind_mps", func(r *LaunchRequest) { r.Conditions.WindMps, r.Conditions.WindFromDeg = 3, 90 }},
		{"#/lines/0/w_balances_j", func(r *LaunchRequest) { r.Lines[0].BalancesJ = []float64{9000} }},
		{"#/lines/0/w_balances_j/1", func(r *LaunchRequest) { r.Lines[0].BalancesJ = []float64{9000, 15_001} }},
		{"#/lines/0/at/mark_id", func(r *LaunchRequest) { r.Lines[0].At = markPlace("mark-7") }},
		{"#/lines/0/at", func(r *LaunchRequest) { r.Lines[0].At = point(49) }},
		{"#/lines/0/at", func(r *LaunchRequest) { r.Lines[0].At = point(0) }},
		{"#/lines", func(r *LaunchRequest) { r.Lines = append(r.Lines, r.Lines[0], r.Lines[0]) }},
	} {
		r := sprintOn(source, toLine(finish()))
		bad.change(&r)
		_, err := e.Launch(t.Context(), r)
		var fault *Error
		if !errors.As(err, &fault) || fault.Pointer != bad.pointer {
			t.Errorf("%s: %v", bad.pointer, err)
		}
		if bad.pointer == "#/lines" && (fault.Limit != 5 || fault.Actual != 6) {
			t.Errorf("limit %v, actual %v", fault.Limit, fault.Actual)
		}
	}
	if _, err := e.Launch(t.Context(), sprintOn(source, toLine(point(c.LengthM())))); err != nil {
		t.Errorf("the course's end: %v", err)
	}
}

// Of several passes those without road before them are left out, and told.
func TestAPassWithoutAnApproach(t *testing.T) {
	e := newEngine(t, Config{})
	_, c := laps(t, e)
	climb := c.Terrain.Climbs[0]
	climb.Passes = append([]terrain.Pass{{StartM: 2, EndM: 40}}, climb.Passes...)
	c = &Course{ID: c.ID, Course: c.Course, Terrain: &terrain.Terrain{Climbs: []terrain.Climb{climb}}}
	l := launching{matrix: matrix{course: c, to: c.LengthM()}}
	at := point(0)
	at.AtM, at.ClimbID = math.NaN(), climb.ID
	kept, err := l.passes(LaunchLine{At: at}, "#/lines/3")
	if err != nil || len(kept) != len(climb.Passes)-1 || kept[0].StartM != kept[0].EndM {
		t.Fatalf("%d passes, %v", len(kept), err)
	}
	if len(l.warnings) != 1 || l.warnings[0].Code != "no-approach" || l.warnings[0].Pointer != "#/lines/3/at" {
		t.Errorf("warnings %v", l.warnings)
	}
	at.Pass = 1
	if _, err := l.passes(LaunchLine{At: at}, "#/lines/3"); err == nil {
		t.Error("40 m of road are an approach")
	}
}

// A wall for one of two riders is that rider's problem, for the only one the call's.
func TestAWallBeforeALine(t *testing.T) {
	e := newEngine(t, Config{})
	opt := course.Defaults()
	opt.Smoothing = course.None
	line := toLine(finish())
	line.ApproachM, line.SpeedMps = 300, 8
	r := sprintOn(CourseSource{Profile: &Profile{DistanceM: []float64{0, 400, 640}, ElevationM: []float64{0, 0, 72}}, Options: CourseOptions{Options: opt}}, line)
	r.Riders[0] = able(110, 90, 2000)
	r.Riders[0].MaxPowerW = 300
	got, err := e.Launch(t.Context(), r)
	var halt *ride.Error
	if err != nil || !errors.As(got.Items[0].Err, &halt) || halt.AtM < 400 || halt.AtM > 640 || got.Items[1].Err != nil {
		t.Fatalf("%v, %v", err, got)
	}
	r.Riders = r.Riders[:1]
	if _, err := e.Launch(t.Context(), r); !errors.As(err, &halt) || halt.Code != ride.CodeCannotClimb {
		t.Errorf("%v", err)
	}
}

func TestABendBeforeALineIsTold(t *testing.T) {
	e := newEngine(t, Config{})
	content, err := os.ReadFile("../../testdata/season/quellmere-criterium.gpx")
	if err != nil {
		t.Fatal(err)
	}
	r := sprintOn(fromFile(content), toLine(finish()))
	got, err := e.Launch(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	codes := map[string]bool{}
	for _, w := range got.Items[0].Warnings {
		codes[w.Code] = true
	}
	r.Conditions.LateralMps2 = math.Inf(1)
	without, err := e.Launch(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range without.Items[0].Warnings {
		if w.Code == "bend-in-approach" {
			t.Errorf("without bends: %s", w.Detail)
		}
	}
	if !codes["bend-in-approach"] {
		t.Errorf("a bend before the finish isn't told: %v", got.Items[0].Warnings)
	}
}

func TestLaunchEndsWithItsContext(t *testing.T) {
	e := newEngine(t, Config{})
	r := sprintOn(fromFile(gpx("Oster loop", 200)), toLine(finish()))
	if _, err := e.Course(t.Context(), r.Course); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := e.Launch(ctx, r); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}
