package tally_test

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"parcours.example/analysis/chance"
	"parcours.example/analysis/course"
	"parcours.example/analysis/field"
	"parcours.example/analysis/race"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/scoring"
	"parcours.example/analysis/tally"
)

// The course: 8 km of flat, 3 km at 7 %, 3 km down again and 2 km of flat.
const footM, topM, finishM = 8000.0, 11_000.0, 16_000.0

func road(t testing.TB) *ride.Road {
	t.Helper()
	nan := math.NaN()
	c, err := course.FromProfile(context.Background(), []float64{0, footM, topM, 14_000, finishM}, []float64{50, 50, 260, 50, 50}, course.Options{SpacingM: 10, Smoothing: course.None})
	if err != nil {
		t.Fatal(err)
	}
	r, err := ride.NewRoad(c, ride.Conditions{
		Indoor: true, TemperatureC: nan, PressureHPa: nan, HumidityPct: nan, AirDensityKgM3: nan, WindMps: nan, WindFromDeg: nan, RoughnessM: nan,
		HeadwindMps: nan, Shelter: nan, LoadKg: nan, StartSpeedMps: nan, CoastAboveMps: nan, LateralMps2: nan, BrakingMps2: nan,
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func setup() ride.Setup {
	nan := math.NaN()
	return ride.Setup{
		MassKg: nan, CdAM2: nan, CdAChangeM2: nan, Crr: nan, DrivetrainEfficiency: nan, WheelInertiaKgM2: nan, WheelRadiusM: nan,
		WheelDragAreaM2: nan, BearingN: nan, BearingNsPerM: nan,
	}
}

// entrants are drawn from trained riders, in teams of two; the first is stronger and attacks
// at the foot of the climb.
func entrants(t testing.TB, n int, betterPct float64) []race.Entrant {
	t.Helper()
	g := field.Trained()
	g.Name = "Rider"
	source, err := field.New(g)
	if err != nil {
		t.Fatal(err)
	}
	out := make([]race.Entrant, n)
	for i := range out {
		r := source.Rider(4, i)
		if i == 0 {
			r.CriticalPowerW = math.Round(r.MassKg * 3.75 * (1 + betterPct/100))
			out[i].Orders = []race.Order{{Kind: race.Attack, AtM: footM, ForS: 600}}
		}
		out[i].Rider, out[i].Setup, out[i].Team = r, setup(), fmt.Sprintf("Club %d", i/2+1)
		out[i].Steps = []ride.Step{{EndM: finishM, PowerW: 0.9 * r.CriticalPowerW}}
	}
	return out
}

// raced is the result of some runs.
func raced(t testing.TB, field []race.Entrant, runs int) (tally.Result, tally.Names) {
	t.Helper()
	var posts []tally.Post
	var lines []float64
	for i := range 64 { // every 250 m: the foot, the top and the finish are among them
		at := 250 * float64(i+1)
		lines = append(lines, at)
		posts = append(posts, tally.Post{Line: i, AtM: at})
	}
	r, err := race.New(road(t), field, lines, race.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	names := tally.Names{
		Contests: []string{"Climbing"}, Lines: []string{"the foot of the climb", "its top", "the finish"}, Climbs: []string{"the climb"},
	}
	var of []string
	for _, e := range field {
		of = append(of, e.Team)
		names.Entrants = append(names.Entrants, e.Rider.Name)
	}
	plan := tally.Plan{Entrants: len(field), Posts: posts, Finish: len(lines) - 1}
	names.Teams, plan.Teams = scoring.Teams(of)
	plan.Lines = []int{slices.Index(lines, footM), slices.Index(lines, topM), plan.Finish}
	plan.Climbs = []tally.Climb{{Foot: plan.Lines[0], Top: plan.Lines[1]}}
	plan.Contests = []scoring.Contest{{Scores: []scoring.Score{{Kind: scoring.ByOrder, Line: plan.Lines[1], Points: []float64{5, 3, 1}}}}}
	counted, err := tally.New(plan)
	if err != nil {
		t.Fatal(err)
	}
	var run race.Run
	for i := range runs {
		if err := r.Ride(context.Background(), i, &run); err != nil {
			t.Fatal(err)
		}
		counted.Add(i, &run)
	}
	result := counted.Result()
	if d := result.Split.Decisive; d != nil {
		names.Split = fmt.Sprintf("the stretch from %.0f m to %.0f m", d.StartM, d.EndM)
	}
	return result, names
}

// A rider who is much stronger than the others wins, gains on the climb, is told so, and
// the field splits there.
func TestTheStrongerRiderIsTold(t *testing.T) {
	r, names := raced(t, entrants(t, 12, 25), 20)
	text := tally.Recommendation(r, names)
	t.Log(text)
	if d := r.Split.Decisive; r.Favourite.Best != 0 || !r.Favourite.Told || d == nil || d.EndM < footM || d.StartM > topM {
		t.Errorf("%+v %+v", r.Favourite, d)
	}
	for _, want := range []string{"Rider 1 ", "Club 1 wins", "The field splits on the stretch from"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in %s", want, text)
		}
	}
	near := func(what string, got, want float64) {
		if math.Abs(got-want) > 1e-6 {
			t.Errorf("%s: %v, not %v", what, got, want)
		}
	}
	places, wins := 0.0, 0.0
	for _, e := range r.Entrants {
		places += e.Place.Mean
		wins += e.Win.P
	}
	near("sum of places", places, 12*13/2)
	near("sum of odds", wins, 1)
}

// BenchmarkAdd counts a run of 200 entrants at 160 lines, 100 of them told.
func BenchmarkAdd(b *testing.B) {
	const n, lines, told = 200, 160, 100
	plan := tally.Plan{Entrants: n, Finish: lines - 1}
	for l := range lines {
		if l >= lines-told {
			plan.Lines = append(plan.Lines, l)
		}
		if l%2 == 0 && len(plan.Posts) < 60 {
			plan.Posts = append(plan.Posts, tally.Post{Line: l, AtM: float64(l)})
		}
	}
	luck := chance.New(1)
	run := race.Run{
		CrossingS: make([]float64, n*lines), WorkJ: make([]float64, n), LeastBalanceJ: make([]float64, n), FrontS: make([]float64, n), ShelteredS: make([]float64, n),
	}
	for i := range n {
		at := 0.0
		for l := range lines {
			at += 20 + 0.5*luck.Normal()
			run.CrossingS[l*n+i] = at
		}
	}
	counted, err := tally.New(plan)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		counted.Add(0, &run)
	}
}
