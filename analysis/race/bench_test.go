package race_test

import (
	"context"
	"fmt"
	"math"
	"testing"

	"parcours.example/analysis/chance"
	"parcours.example/analysis/course"
	. "parcours.example/analysis/race"
	"parcours.example/analysis/ride"
)

// rolling is a road of some length with waves of 40 m over 4 km.
func rolling(t testing.TB, lengthM float64, cond ride.Conditions) *ride.Road {
	t.Helper()
	n := int(lengthM / 10)
	s, z := make([]float64, n+1), make([]float64, n+1)
	for i := range s {
		s[i] = float64(10 * i)
		z[i] = 100 + 20*math.Cos(2*math.Pi*s[i]/4000)
	}
	c, err := course.FromProfile(s, z, course.Options{SpacingM: 10, Smoothing: course.None})
	if err != nil {
		t.Fatal(err)
	}
	return roadOf(t, c, cond)
}

// league is a field of amateurs, of invented names.
func league(n int, seed uint64) []Entrant {
	field := make([]Entrant, n)
	for i := range field {
		luck := chance.New(seed, uint64(i))
		mass := 72 + 7*luck.Normal()
		power := mass * (3.9 + 0.35*luck.Normal())
		r := rider(mass, power, 19000+3000*luck.Normal())
		r.MaxPowerW = mass * (13 + 1.2*luck.Normal())
		r.Name = fmt.Sprintf("Entrant %d", i+1)
		field[i] = Entrant{Rider: r, Setup: setup(), Steps: steady(0.95 * power)}
	}
	return field
}

// BenchmarkRace rides 100 entrants for about an hour. 200 runs on two cores are asked to
// take 10 s: 100 ms a run on each.
func BenchmarkRace(b *testing.B) {
	cond := conditions()
	cond.Indoor = true
	road := rolling(b, 42000, cond)
	r, err := New(road, league(100, 1), []float64{road.LengthM()}, Defaults())
	if err != nil {
		b.Fatal(err)
	}
	var run Run
	seconds := 0.0
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		if err := r.Ride(context.Background(), n, &run); err != nil {
			b.Fatal(err)
		}
		n++
		for _, s := range run.CrossingS {
			seconds += s
		}
	}
	b.ReportMetric(seconds/b.Elapsed().Seconds(), "rider-steps/s")
	b.ReportMetric(seconds/float64(100*n), "s-raced")
}
