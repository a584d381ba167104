package race_test

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"

	"parcours.example/analysis/course"
	. "parcours.example/analysis/race"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/track"
)

// conditions are those in which nothing is said.
func conditions() ride.Conditions {
	n := math.NaN()
	return ride.Conditions{
		TemperatureC: n, PressureHPa: n, HumidityPct: n, AirDensityKgM3: n, WindMps: n, WindFromDeg: n, RoughnessM: n,
		HeadwindMps: n, Shelter: n, LoadKg: n, StartSpeedMps: n, CoastAboveMps: n, LateralMps2: n, BrakingMps2: n,
	}
}

func rider(massKg, criticalPowerW, wPrimeJ float64) ride.Rider {
	n := math.NaN()
	return ride.Rider{
		MassKg: massKg, HeightM: n, CdAM2: n, CriticalPowerW: criticalPowerW, WPrimeJ: wPrimeJ, MaxPowerW: n,
		RecoveryRate: n, GrossEfficiency: n,
	}
}

func setup() ride.Setup {
	n := math.NaN()
	return ride.Setup{
		MassKg: n, CdAM2: n, CdAChangeM2: n, Crr: n, DrivetrainEfficiency: n, WheelInertiaKgM2: n, WheelRadiusM: n,
		WheelDragAreaM2: n, BearingN: n, BearingNsPerM: n,
	}
}

// steady is a power throughout.
func steady(powerW float64) []ride.Step { return []ride.Step{{EndM: math.Inf(1), PowerW: powerW}} }

func roadOf(t testing.TB, c *course.Course, cond ride.Conditions) *ride.Road {
	t.Helper()
	road, err := ride.NewRoad(c, cond, nil)
	if err != nil {
		t.Fatal(err)
	}
	return road
}

// season is a road of the invented season.
func season(t testing.TB, name string, cond ride.Conditions) *ride.Road {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("../../testdata/season", name+".gpx"))
	if err != nil {
		t.Fatal(err)
	}
	read, err := track.ReadGPX(b, track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	c, err := course.FromTrack(read, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	return roadOf(t, c, cond)
}

func raced(t testing.TB, road *ride.Road, field []Entrant, lines []float64, rules Rules, run int) *Run {
	t.Helper()
	r, err := New(road, field, lines, rules)
	if err != nil {
		t.Fatal(err)
	}
	var out Run
	if err := r.Ride(context.Background(), run, &out); err != nil {
		t.Fatal(err)
	}
	return &out
}

func TestOneRiderAloneRidesAsPredicted(t *testing.T) {
	windy := conditions()
	windy.WindMps, windy.WindFromDeg = 5, 200
	indoor := conditions()
	indoor.Indoor = true
	for _, name := range []string{
		"brambleseth-time-trial", "hoskerrow-eight", "ludwether-mountain-stage", "morvask-laps-and-climb", "quellmere-criterium", "skarnholt-hill-climb",
	} {
		for what, cond := range map[string]ride.Conditions{"calm": conditions(), "windy": windy, "indoors": indoor} {
			road := season(t, name, cond)
			e := Entrant{Rider: rider(70, 280, 20000), Setup: setup(), Steps: []ride.Step{{EndM: 3000, PowerW: 320}, {EndM: 8000, PowerW: 210}, {EndM: math.Inf(1), PowerW: 250}}}
			want, err := ride.Simulate(context.Background(), road, e.Rider, e.Setup, ride.Effort{Kind: ride.BySteps, Steps: e.Steps}, nil)
			if err != nil {
				t.Fatal(err)
			}
			got := raced(t, road, []Entrant{e}, []float64{road.LengthM()}, Defaults(), 3).CrossingS[0]
			if off := got/want.TimeS - 1; math.Abs(off) > 0.0005 {
				t.Errorf("%s, %s: %.2f s, predicted %.2f s: %+.4f %%", name, what, got, want.TimeS, 100*off)
			} else {
				t.Logf("%s, %s: %+.4f %%", name, what, 100*off)
			}
		}
	}
}

// What a rider is on changes nothing of the day's form.
func TestLuckGoesByName(t *testing.T) {
	road := rolling(t, 2000, conditions())
	field := league(3, 1)
	before := raced(t, road, field, nil, Defaults(), 0).FormPct
	field[1].Setup.MassKg, field[1].Rider.MassKg = 9, 80
	if after := raced(t, road, field, nil, Defaults(), 0).FormPct; after[1] != before[1] || after[0] == after[1] {
		t.Errorf("the form was %v, on another set-up it is %v", before, after)
	}
}
