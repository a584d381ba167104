// Package chance draws random numbers that are the same on every processor: each stream
// is named by a seed and by what it is for, so that what is drawn for one thing doesn't
// depend on how much was drawn for another, nor on the order of both.
package chance

import (
	"math"
	"math/rand/v2"

	"parcours.example/analysis/elementary"
)

// Stream is a sequence of random numbers. It is made with New.
type Stream struct{ source rand.PCG }

// New returns the stream of a seed for a purpose, which is named by numbers: two streams
// with the same seed and names are the same, with any other they are independent.
func New(seed uint64, names ...uint64) Stream {
	a, b := mixed(seed), mixed(seed+golden)
	for _, n := range names {
		a = mixed(a ^ mixed(n+golden))
		b = mixed(b + a)
	}
	var s Stream
	s.source.Seed(a, b)
	return s
}

// Name turns a text into a number for New (FNV-1a, 64 bits).
func Name(text string) uint64 {
	h := uint64(14695981039346656037)
	for i := range len(text) {
		h = (h ^ uint64(text[i])) * 1099511628211
	}
	return h
}

// Uniform returns a number in [0, 1).
func (s *Stream) Uniform() float64 { return float64(s.source.Uint64()>>11) / (1 << 53) }

// Normal returns a number of the standard normal distribution (Box & Muller 1958, Ann.
// Math. Stat. 29:610–611).
func (s *Stream) Normal() float64 {
	radius := math.Sqrt(-2 * elementary.Log(1-s.Uniform()))
	_, cos := elementary.Sincos(2 * math.Pi * s.Uniform())
	return radius * cos
}

// golden is 2⁶⁴ over the golden ratio, odd.
const golden = 0x9e3779b97f4a7c15

// mixed scatters a number over all 64 bits, one to one (the finaliser of Steele, Lea &
// Flood 2014, Fast splittable pseudorandom number generators, OOPSLA).
func mixed(z uint64) uint64 {
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}
