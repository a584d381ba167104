package coursegen

import (
	"math"
	"math/rand/v2"
)

// star is a circuit seen whole from its centre, r(θ) = scale·(1 + Σ aₖ·cos(kθ + φₖ)):
// it can't cross itself, and what lies farther out than r lies outside.
type star struct {
	amplitude, phase []float64
	scale, length    float64
	clockwise        bool
}

// randomStar returns a circuit of a length in metres.
func randomStar(rng *rand.Rand, lengthM float64) star {
	c := star{length: lengthM, scale: 1, clockwise: rng.IntN(2) == 0}
	room := between(rng, 0.1, 0.5)
	for k := 1; k <= 6; k++ {
		c.amplitude = append(c.amplitude, room*between(rng, 0.05, 0.5)/math.Sqrt(float64(k)))
		c.phase = append(c.phase, between(rng, 0, 2*math.Pi))
	}
	c.scale = lengthM / c.outline().lengthM()
	return c
}

func (c star) radius(theta float64) float64 {
	r := 1.0
	for i, a := range c.amplitude {
		k := float64(i + 1)
		r += float64(a / k * math.Cos(k*theta+c.phase[i]))
	}
	return c.scale * r
}

// at returns the place outside the circuit in a direction from its centre.
func (c star) at(theta, outM float64) point {
	sin, cos := math.Sincos(theta)
	r := c.radius(theta) + outM
	return point{E: r * cos, N: r * sin}
}

func (c star) angleOf(p point) float64 { return math.Atan2(p.N, p.E) }

// road returns the circuit from direction 0 round to it again.
func (c star) road() path { return c.outline().even() }

func (c star) outline() path {
	turn := 2 * math.Pi
	if c.clockwise {
		turn = -turn
	}
	n := max(2000, int(c.length/3))
	p := curve(n, func(t float64) point { return c.at(turn*t, 0) })
	p[n] = p[0] // exactly closed
	return p
}

// approach returns a road of about a length in metres that comes from outside and
// meets the circuit in a direction from its centre, at 40° or more to it.
func (c star) approach(rng *rand.Rand, lengthM, theta float64) path {
	swing := between(rng, -0.4, 0.4) * lengthM / (c.scale + lengthM)
	n := max(20, int(lengthM/5))
	p := curve(n, func(t float64) point {
		away := 1 - t
		return c.at(theta+float64(swing*away*away), lengthM*away)
	})
	return p.even()
}
