package capability

import (
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/internal/seeded"
)

// tested is a rider of three parameters who was tested, with 1.5 % of error in power.
type tested struct {
	cp, w   float64
	efforts []Effort
	// lazy is the index of the effort that is 8 % short, −1 for none.
	lazy int
}

func testedRider(seed uint64, lazy bool, durationsS ...float64) tested {
	r := rand.New(rand.NewPCG(seed, 1))
	rider := someone{cp: 200 + 150*r.Float64(), w: 10_000 + 15_000*r.Float64()}
	rider.most = rider.cp * (3 + 2*r.Float64())
	out := tested{cp: rider.cp, w: rider.w, lazy: -1}
	if lazy {
		out.lazy = r.IntN(len(durationsS))
	}
	for i, s := range durationsS {
		p := rider.powerW(s, true) * (1 + 0.015*r.NormFloat64())
		if i == out.lazy {
			p *= 0.92
		}
		out.efforts = append(out.efforts, Effort{DurationS: s, PowerW: p, Weight: 1})
	}
	return out
}

// The best fit of simulated riders: its mean error, how often the truth is within a
// standard error (68 % were the model true), how often an outlier is seen where there is
// none, and where one effort is 8 % short.
func TestSimulatedRiders(t *testing.T) {
	for _, set := range []struct {
		name              string
		durationsS        []float64
		mostCP, mostW     float64
		leastIn, leastHit float64
	}{
		{"3, 7 and 12 min", []float64{180, 420, 720}, 0.03, 0.25, 0, 0},
		{"2.5 to 20 min", []float64{150, 300, 480, 720, 1200}, 0.025, 0.25, 0.25, 0.4},
		{"8 s to 20 min", []float64{8, 60, 180, 420, 720, 1200}, 0.02, 0.1, 0.5, 0.35},
	} {
		seed, n := seeded.First(t), seeded.Cases(2000)
		var cpError, wError, inside, alarms, hits float64
		for i := range n {
			for _, lazy := range []bool{false, true} {
				rider := testedRider(seed+uint64(i), lazy, set.durationsS...)
				c, err := Determine(rider.efforts)
				if err != nil && lazy {
					continue // three efforts of which one is lazy may fit nothing
				}
				if err != nil {
					t.Fatalf("seed %d: %v", seed+uint64(i), err)
				}
				best, w := &c.Fits[c.Best], find(c, CodeOutlier)
				switch {
				case lazy && w != nil && w.Effort == rider.lazy:
					hits++
				case w != nil:
					alarms++
				}
				if lazy {
					continue
				}
				cpError += math.Abs(best.CriticalPowerW/rider.cp - 1)
				wError += math.Abs(best.WPrimeJ/rider.w - 1)
				if math.Abs(best.CriticalPowerW-rider.cp) < best.CriticalPowerErrorW {
					inside++
				}
			}
		}
		all := float64(n)
		cpError, wError, inside, alarms, hits = cpError/all, wError/all, inside/all, alarms/(2*all), hits/all
		t.Logf("%s: CP within %.3f, W′ within %.3f, truth inside a standard error %.2f, outliers misplaced %.3f, found %.2f", set.name, cpError, wError, inside, alarms, hits)
		if cpError > set.mostCP || wError > set.mostW || inside < set.leastIn || alarms > 0.08 || hits < set.leastHit {
			t.Errorf("%s: outside its bounds", set.name)
		}
	}
}
