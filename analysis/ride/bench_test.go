package ride

import (
	"context"
	"math/rand/v2"
	"testing"
)

// hundred is a course of 100 km in 10,000 pieces with bends, wind and hills of a height
// in metres: at 15 m gradients up to 6 %, at 40 m up to 16 %.
func hundred(b *testing.B, height float64) *Road {
	heading := func(s float64) float64 { return s / 40 }
	c := turned(even(100_000, 10_000, hills(rand.New(rand.NewPCG(1, 2)), height)), heading)
	cond := conditions()
	cond.WindMps, cond.WindFromDeg = 4, 230
	return mustRoad(b, c, cond)
}

func BenchmarkPrediction100km(b *testing.B) {
	for name, height := range map[string]float64{"flat": 0, "hilly": 15, "steep": 40} {
		b.Run(name, func(b *testing.B) {
			road := hundred(b, height)
			r, s := rider(75), setup()
			r.CriticalPowerW, r.WPrimeJ = 270, 20_000
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Simulate(context.Background(), road, r, s, watts(230), nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkRoad100km(b *testing.B) {
	c := hundred(b, 15).course
	for b.Loop() {
		if _, err := NewRoad(c, conditions(), nil); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkSensitivities100km is to be held against BenchmarkPrediction100km.
func BenchmarkSensitivities100km(b *testing.B) {
	for name, height := range map[string]float64{"flat": 0, "hilly": 15, "steep": 40} {
		b.Run(name, func(b *testing.B) {
			road := hundred(b, height)
			ridden := mustRide(b, road, rider(75), setup(), watts(230))
			b.ReportAllocs()
			for b.Loop() {
				ridden.Sensitivities(road)
			}
		})
	}
}

// BenchmarkBand100km is a band beside its sensitivities, in a wind that is given.
func BenchmarkBand100km(b *testing.B) {
	road := hundred(b, 15)
	ridden := mustRide(b, road, rider(75), setup(), watts(230))
	whole := ridden.Sensitivities(road).Whole
	for name, windMps := range map[string]float64{"calm": 0, "windy": 1.5} {
		u := doubts()
		u.WindMps = windMps
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := ridden.Band(context.Background(), road, whole, u, 90); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
