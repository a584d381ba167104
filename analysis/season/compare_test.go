package season_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/season"
)

// rider is one of a roster; stretch is a piece of a round with one gradient.
type rider struct {
	name                  string
	powerW, massKg, cdaM2 float64
}

type stretch struct{ lengthM, slope float64 }

// steadyS is the time over stretches at the speeds at which power and resistances balance,
// without anything that is proportional to neither mass nor drag area.
func steadyS(r rider, road []stretch) (s float64) {
	for _, part := range road {
		low, high := 0.01, 60.0
		for range 200 {
			v := (low + high) / 2
			if needed := v * (r.massKg*9.80665*(part.slope+0.004) + 0.5*1.2*r.cdaM2*v*v); needed < r.powerW {
				low = v
			} else {
				high = v
			}
		}
		s += part.lengthM / low
	}
	return s
}

// ridden is a steady ride with its derivatives.
func ridden(i int, r rider, road []stretch) season.Ride {
	const h = 1e-4
	by := func(change func(*rider, float64)) float64 {
		up, down := r, r
		change(&up, math.Exp(h))
		change(&down, math.Exp(-h))
		return math.Log(steadyS(up, road)/steadyS(down, road)) / (2 * h)
	}
	return season.Ride{
		RiderIndex: i, TimeS: steadyS(r, road), LowS: math.NaN(), HighS: math.NaN(), PowerW: r.powerW, MassKg: r.massKg, CdAM2: r.cdaM2,
		TimeByMass:     by(func(r *rider, k float64) { r.massKg *= k }),
		TimeByDragArea: by(func(r *rider, k float64) { r.cdaM2 *= k }),
	}
}

// compared rides a roster over roads.
func compared(riders []rider, roads [][]stretch) season.Comparison {
	var names []string
	for _, r := range riders {
		names = append(names, r.name)
	}
	rounds := make([]season.Round, len(roads))
	for j, road := range roads {
		for _, part := range road {
			rounds[j].LengthM += part.lengthM
			rounds[j].AscentM += part.lengthM * max(0, part.slope)
		}
		for i, r := range riders {
			rounds[j].Rides = append(rounds[j].Rides, ridden(i, r, road))
		}
	}
	return season.Compare(names, rounds)
}

func drawRider(t *rapid.T, i int) rider {
	return rider{
		name: fmt.Sprint("Rider ", i), powerW: rapid.Float64Range(180, 380).Draw(t, "W"),
		massKg: rapid.Float64Range(60, 100).Draw(t, "kg"), cdaM2: rapid.Float64Range(0.25, 0.4).Draw(t, "m²"),
	}
}

func drawRoad(t *rapid.T) (road []stretch) {
	for range rapid.IntRange(1, 4).Draw(t, "stretches") {
		road = append(road, stretch{rapid.Float64Range(500, 20_000).Draw(t, "m"), rapid.Float64Range(0, 0.1).Draw(t, "slope")})
	}
	return road
}

func drawSeason(t *rapid.T) (riders []rider, roads [][]stretch) {
	for i := range rapid.IntRange(2, 6).Draw(t, "riders") {
		riders = append(riders, drawRider(t, i))
	}
	for range rapid.IntRange(2, 5).Draw(t, "rounds") {
		roads = append(roads, drawRoad(t))
	}
	return riders, roads
}

// told lists the rounds that suit a rider, or don't, by index.
func told(r season.Rider) map[int]season.Suited {
	all := map[int]season.Suited{}
	for _, s := range slices.Concat(r.Best, r.Least) {
		all[s.Round] = s
	}
	return all
}

// What suits whom doesn't depend on the order in which rounds and riders come, to the bit.
func TestOrderChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		riders, roads := drawSeason(t)
		by := rapid.Permutation(indices(len(riders))).Draw(t, "riders' order")
		at := rapid.Permutation(indices(len(roads))).Draw(t, "rounds' order")
		one := compared(riders, roads)
		other := compared(permuted(riders, by), permuted(roads, at))
		for i, from := range by {
			a, b := one.Riders[from], other.Riders[i]
			if a.TotalS != b.TotalS || a.BehindS != b.BehindS {
				t.Errorf("%s: %v s and %v s", a.Name, a.TotalS, b.TotalS)
			}
			for j, was := range at {
				x, y := a.Times[was], b.Times[j]
				if x.SuitabilityPct != y.SuitabilityPct || x.Place != y.Place {
					t.Errorf("%s: %v %% and %v %%", a.Name, x.SuitabilityPct, y.SuitabilityPct)
				}
				s, is := told(a)[was]
				if again, was := told(b)[j]; is && was && (s.Why != again.Why || s.RestPct != again.RestPct) {
					t.Errorf("%q and %q", s.Why, again.Why)
				}
			}
		}
		for j, was := range at {
			if one.Rounds[was] != other.Rounds[j] {
				t.Errorf("%+v and %+v", one.Rounds[was], other.Rounds[j])
			}
		}
	})
}

func indices(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

func permuted[T any](list []T, by []int) []T {
	out := make([]T, len(by))
	for i, from := range by {
		out[i] = list[from]
	}
	return out
}

// What a round suits a rider by is the sum of its parts; over the rounds it comes to nothing for
// each rider. Where mass and drag area are all that resists, the two ratios are nearly all of it.
func TestPartsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		riders, roads := drawSeason(t)
		for _, r := range compared(riders, roads).Riders {
			total := 0.0
			for _, time := range r.Times {
				total += time.SuitabilityPct
			}
			if math.Abs(total) > 1e-9 {
				t.Errorf("%s: %v over all rounds", r.Name, total)
			}
			for _, s := range told(r) {
				if sum := s.PowerToMassPct + s.PowerToDragAreaPct + s.RestPct; math.Abs(sum-s.SuitabilityPct) > 1e-12 {
					t.Errorf("%s: %v, want %v", r.Name, sum, s.SuitabilityPct)
				}
			}
		}
	})
}

// Of two riders there is no middle between whom they could stand but halfway: the ratios explain
// the whole to the third order of what they differ by.
func TestTheRatiosExplainTwoRiders(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		one := drawRider(t, 1)
		other := rider{
			name: "Rider 2", powerW: one.powerW * rapid.Float64Range(0.95, 1.05).Draw(t, "power"),
			massKg: one.massKg * rapid.Float64Range(0.95, 1.05).Draw(t, "mass"), cdaM2: one.cdaM2 * rapid.Float64Range(0.95, 1.05).Draw(t, "area"),
		}
		roads := [][]stretch{drawRoad(t), drawRoad(t), drawRoad(t)}
		for _, r := range compared([]rider{one, other}, roads).Riders {
			for _, s := range told(r) {
				if math.Abs(s.RestPct) > 0.02 {
					t.Errorf("%s: %+v", r.Name, s)
				}
			}
		}
	})
}

// Who has the same is suited alike: by nothing.
func TestIdenticalRiders(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawRider(t, 1)
		n := rapid.IntRange(2, 5).Draw(t, "riders")
		for _, r := range compared(slices.Repeat([]rider{r}, n), [][]stretch{drawRoad(t), drawRoad(t)}).Riders {
			for _, time := range r.Times {
				if math.Abs(time.SuitabilityPct) > 1e-9 || time.Place != 1 {
					t.Errorf("%+v", time)
				}
			}
			if r.BehindS != 0 || r.Best != nil || r.Least != nil {
				t.Errorf("%+v", r)
			}
		}
	})
}

// With power, mass and drag area all so many times another's a rider is as fast everywhere.
func TestScaledRiders(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		one, k := drawRider(t, 1), rapid.Float64Range(0.7, 1.4).Draw(t, "scale")
		other := rider{"Rider 2", one.powerW * k, one.massKg * k, one.cdaM2 * k}
		for _, r := range compared([]rider{one, other}, [][]stretch{drawRoad(t), drawRoad(t)}).Riders {
			for _, time := range r.Times {
				if math.Abs(time.SuitabilityPct) > 1e-6 {
					t.Errorf("%+v", time)
				}
			}
		}
	})
}

// A lighter rider with as much power over mass, but less over drag area, is suited by the hill.
func TestTheHillSuitsTheLightRider(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		heavy := drawRider(t, 1)
		k := rapid.Float64Range(0.6, 0.95).Draw(t, "share of the mass")
		light := rider{"Light", heavy.powerW * k, heavy.massKg * k, heavy.cdaM2 * math.Pow(k, 2.0/3)}
		slope := rapid.Float64Range(0.03, 0.1).Draw(t, "slope")
		hill, flat := []stretch{{5000, slope}}, []stretch{{5000, 0}}
		c := compared([]rider{heavy, light}, [][]stretch{flat, hill})
		if times := c.Riders[1].Times; times[1].SuitabilityPct <= 0 || times[0].SuitabilityPct >= 0 {
			t.Errorf("%+v", times)
		}
		for _, s := range c.Riders[1].Best {
			if s.PowerToDragAreaPct <= math.Abs(s.PowerToMassPct) || s.Round != 1 {
				t.Errorf("%+v", s)
			}
		}
	})
}
