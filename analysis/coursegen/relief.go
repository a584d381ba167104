package coursegen

import (
	"math"
	"math/rand/v2"
)

// relief is the elevation of the plane: a sum of waves, smooth and the same for
// every road that comes by.
type relief struct {
	base  float64
	waves []reliefWave
}

// reliefWave is amplitude·sin(east·E + north·N + phase).
type reliefWave struct{ amplitude, east, north, phase float64 }

// randomRelief returns gently to strongly hilly ground, whose waves of 0.7 to 8 km
// rise at up to 0.2 to 5 % each.
func randomRelief(rng *rand.Rand) relief {
	r := relief{base: between(rng, 300, 900)}
	steepness := between(rng, 0.01, 0.05)
	for range 8 {
		wavenumber := 2 * math.Pi / logBetween(rng, 700, 8000)
		sin, cos := math.Sincos(between(rng, 0, 2*math.Pi))
		r.waves = append(r.waves, reliefWave{
			amplitude: steepness * between(rng, 0.2, 1) / wavenumber,
			east:      wavenumber * cos,
			north:     wavenumber * sin,
			phase:     between(rng, 0, 2*math.Pi),
		})
	}
	return r
}

// at returns the elevation of a place in metres.
func (r relief) at(p point) float64 {
	z := r.base
	for _, w := range r.waves {
		z += float64(w.amplitude * math.Sin(float64(w.east*p.E)+float64(w.north*p.N)+w.phase))
	}
	return z
}
