package calibrate

import (
	"math"
	"slices"

	"parcours.example/analysis/elementary"
)

// The shares of the drag that shelter takes away, all as likely as each other: from where
// it can be told from a change of position to what the middle of a line leaves (../shelter).
const (
	leastShelter = 0.15
	mostShelter  = 0.70
	// farSD is how far off, in standard deviations, something else may put a stretch.
	farSD = 30.0
	// The first shares of the classes, and the most that they become.
	firstSheltered, mostSheltered = 0.1, 0.6
	firstSpoiled, mostSpoiled     = 0.03, 0.2
	// leastWeight keeps the covariance finite.
	leastWeight = 1e-4
)

// mixture is what the stretches are taken for.
type mixture struct {
	// sheltered and spoiled are the shares of stretches that are.
	sheltered, spoiled float64
	weights            []float64
	class              []Class
}

func newMixture(n int) *mixture {
	m := &mixture{sheltered: firstSheltered, spoiled: firstSpoiled, weights: make([]float64, n), class: make([]Class, n)}
	for i := range m.weights {
		m.weights[i], m.class[i] = 1, OwnAir
	}
	return m
}

// judge weighs each stretch by what it leaves over against what all others say: t is
// (P·r)ᵢ/√Pᵢᵢ, standard normal for own air. Less drag by a share u moves it by
// −u·drag·√Pᵢᵢ. It returns the largest change of a weight.
func (m *mixture) judge(p symmetric, pr, dragJ []float64) float64 {
	most, sheltered, spoiled := 0.0, 0.0, 0.0
	for i := range m.weights {
		root := math.Sqrt(p.a[i*p.n+i])
		t := pr[i] / root
		own, lee, other := m.densities(t, dragJ[i]*root)
		sum := own + lee + other
		m.class[i] = OwnAir
		if lee > own && lee >= other {
			m.class[i] = Sheltered
		} else if other > own {
			m.class[i] = Spoiled
		}
		w := max(own/sum, leastWeight)
		most = max(most, math.Abs(w-m.weights[i]))
		m.weights[i] = w
		sheltered += lee / sum
		spoiled += other / sum
	}
	n := float64(len(m.weights))
	m.sheltered = min(sheltered/n, mostSheltered)
	m.spoiled = min(spoiled/n, mostSpoiled)
	return most
}

// densities are those of t under each class.
func (m *mixture) densities(t, drag float64) (own, sheltered, spoiled float64) {
	if math.Abs(t) >= farSD {
		return 0, 0, 1
	}
	return (1 - m.sheltered - m.spoiled) * normal(t), m.sheltered * lee(t, drag), m.spoiled / (2 * farSD)
}

// normal is the standard normal density.
func normal(t float64) float64 { return elementary.Exp(-t*t/2) / math.Sqrt(2*math.Pi) }

// below is the standard normal distribution.
func below(t float64) float64 { return elementary.Erfc(-t/math.Sqrt2) / 2 }

// lee is the density of t under shelter, where the whole drag is drag standard deviations.
func lee(t, drag float64) float64 {
	if !(drag > 0) {
		return 0
	}
	from, to := t+float64(leastShelter*drag), t+float64(mostShelter*drag)
	return (below(to) - below(from)) / (drag * (mostShelter - leastShelter))
}

// upper is the share of weight below which the first guess of the drag area lies: above
// the middle, because shelter lowers what is seen and nothing raises it as often.
const upper = 0.6

// weighted is a value with a weight.
type weighted struct{ value, weight float64 }

// quantile returns the value below which a share of the weight lies.
func quantile(values []weighted, share float64) float64 {
	slices.SortFunc(values, func(a, b weighted) int {
		switch {
		case a.value < b.value:
			return -1
		case a.value > b.value:
			return 1
		}
		return 0
	})
	total := 0.0
	for _, v := range values {
		total += v.weight
	}
	sum := 0.0
	for _, v := range values {
		sum += v.weight
		if sum >= share*total {
			return v.value
		}
	}
	return math.NaN()
}
