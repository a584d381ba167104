package ride

import (
	"context"
	"math/rand/v2"
	"testing"
)

// hundred is a course of 100 km in 10,000 pieces with hills, bends and wind.
func hundred(b *testing.B) *Road {
	heading := func(s float64) float64 { return s / 40 }
	c := turned(even(100_000, 10_000, hills(rand.New(rand.NewPCG(1, 2)), 40)), heading)
	cond := conditions()
	cond.WindMps, cond.WindFromDeg = 4, 230
	return mustRoad(b, c, cond)
}

func BenchmarkPrediction100km(b *testing.B) {
	road := hundred(b)
	r, s := rider(75), setup()
	r.CriticalPowerW, r.WPrimeJ = 270, 20_000
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Simulate(context.Background(), road, r, s, watts(230), nil); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRoad100km(b *testing.B) {
	c := hundred(b).course
	for b.Loop() {
		if _, err := NewRoad(c, conditions(), nil); err != nil {
			b.Fatal(err)
		}
	}
}
