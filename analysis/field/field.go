// Package field draws riders from stated distributions: body mass, critical power per
// kilogram, W′, and maximal power per kilogram, which may go together.
//
// The four are normally distributed with correlations (a Gaussian copula), and whoever
// falls outside what riders are is drawn again. That shifts means and spreads where much
// is cut off: Source.Cut says how much is, and what is left. Each rider has a stream
// of random numbers of his or her own, so that a rider more or fewer leaves the others
// as they are.
//
// Height is left open. The ride then takes its default for all, at which a rider's frontal
// area grows with mass.
package field

import (
	"fmt"
	"math"
	"strings"

	"parcours.example/analysis/chance"
	"parcours.example/analysis/ride"
)

// Normal is a normal distribution by its mean and standard deviation, in the unit of what
// is distributed.
type Normal struct{ Mean, SD float64 }

// Group is what riders are drawn from. Start from Trained.
type Group struct {
	// Name is that of the group: riders are named after it and numbered from 1, and groups
	// of different names draw different riders.
	Name string
	// MassKg is body mass.
	MassKg Normal
	// WPerKg is critical power and MaxWPerKg maximal power per kilogram of body mass, W/kg.
	// With a MaxWPerKg.Mean of NaN nobody's maximal power is known.
	WPerKg, MaxWPerKg Normal
	WPrimeJ           Normal
	Correlations      Correlations
}

// Correlations are between two of a rider's quantities, −1…1; 0 if they have nothing to do
// with one another.
type Correlations struct {
	MassWPerKg, MassWPrime, MassMax float64
	WPerKgWPrime, WPerKgMax         float64
	WPrimeMax                       float64
}

// Trained returns what trained amateurs are: critical power 3.3…4.2 W/kg, W′ 14…22 kJ and
// maximal power of a few seconds 12…15 W/kg, all from memory and taken as the mean and two
// standard deviations on each side; 72 ± 8 kg, common practice. Per kilogram the light give
// more, as power grows with less than mass (−0.3), and W′ grows with muscle (0.4); both
// from memory. The others, which are known to us no better than their sign, are 0.
func Trained() Group {
	return Group{
		MassKg:       Normal{72, 8},
		WPerKg:       Normal{3.75, 0.225},
		MaxWPerKg:    Normal{13.5, 0.75},
		WPrimeJ:      Normal{18_000, 2_000},
		Correlations: Correlations{MassWPerKg: -0.3, MassWPrime: 0.4},
	}
}

// The quantities of a rider, in the order in which they are drawn.
const (
	mass = iota
	wPerKg
	wPrime
	maxWPerKg
	quantities
)

// quantity says what riders are: who falls outside of least…most is drawn again.
type quantity struct {
	name, unit  string
	least, most float64
}

// of returns the quantities of all.
func of() [quantities]quantity {
	return [...]quantity{
		mass:      {"mass_kg", "kg", 30, 180},
		wPerKg:    {"w_per_kg", "W/kg", 0.8, 9},
		wPrime:    {"w_prime_j", "J", 2_000, 80_000},
		maxWPerKg: {"max_w_per_kg", "W/kg", 3, 35},
	}
}

func (g Group) normals() [quantities]Normal {
	return [...]Normal{mass: g.MassKg, wPerKg: g.WPerKg, wPrime: g.WPrimeJ, maxWPerKg: g.MaxWPerKg}
}

// Error says why nobody can be drawn.
type Error struct {
	// Quantity is what it is about: "mass_kg", "w_per_kg", "w_prime_j", "max_w_per_kg" or
	// "correlations".
	Quantity string
	// Detail is a sentence with the numbers that matter.
	Detail string
}

// Error implements error.
func (e *Error) Error() string { return e.Detail }

// Source draws the riders of a group. It is made with New.
type Source struct {
	name    string
	normals [quantities]Normal
	mixed   [quantities][quantities]float64 // lower triangle: the root of the correlations
	bounds  [quantities]quantity
	cut     Cut
}

// mostCut is the share of riders drawn again above which a group is refused.
const mostCut = 0.5

// New returns the source of a group's riders, or an *Error where a distribution isn't one,
// the correlations can't hold together, or more than half of all riders would be outside
// what riders are.
func New(g Group) (*Source, error) {
	s := &Source{name: g.Name, normals: g.normals(), bounds: of()}
	for i, n := range s.normals {
		if i == maxWPerKg && math.IsNaN(n.Mean) {
			s.normals[i] = Normal{}
			s.bounds[i].least, s.bounds[i].most = math.Inf(-1), math.Inf(1)
			continue
		}
		q := s.bounds[i]
		if !(n.Mean >= q.least && n.Mean <= q.most && n.SD >= 0 && n.SD <= q.most) {
			return nil, &Error{q.name, fmt.Sprintf(
				"A mean of %v with a standard deviation of %v %s: the mean must be within %v…%v %[3]s, the deviation 0 to %[5]v %[3]s.", n.Mean, n.SD, q.unit, q.least, q.most,
			)}
		}
	}
	var err error
	if s.mixed, err = root(g.Correlations); err != nil {
		return nil, err
	}
	return s, s.measureCut()
}

// hasMax reports whether maximal powers are drawn.
func (s *Source) hasMax() bool { return !math.IsInf(s.bounds[maxWPerKg].most, 1) }

// Rider returns rider n, from 0 on, of the group by a seed: the same however many are
// drawn, and in whatever order. Mass is to 0.1 kg, powers to 1 W, W′ to 10 J, so that a
// rider who is written down and read again is the same.
func (s *Source) Rider(seed uint64, n int) ride.Rider {
	stream := chance.New(seed, chance.Name("field"), chance.Name(s.name), uint64(n))
	values, outside := s.draw(&stream)
	for outside >= 0 { // at most about half of the draws, New demands
		values, outside = s.draw(&stream)
	}
	nan := math.NaN()
	r := ride.Rider{
		Name:   strings.TrimSpace(fmt.Sprintf("%s %d", s.name, n+1)),
		MassKg: math.Round(values[mass]*10) / 10, HeightM: nan, CdAM2: nan,
		CriticalPowerW: math.Round(values[wPerKg] * values[mass]), WPrimeJ: math.Round(values[wPrime]/10) * 10,
		MaxPowerW: nan, RecoveryRate: nan, GrossEfficiency: nan,
	}
	if s.hasMax() {
		r.MaxPowerW = math.Round(values[maxWPerKg] * values[mass])
	}
	return r
}

// leastMaxFactor is how many times a rider's critical power the maximal power is at least.
const leastMaxFactor = 1.2

// draw draws the quantities of a rider, and returns one that is outside what riders are,
// or −1. It always takes four numbers, so that a quantity that isn't drawn leaves the
// others as they are.
func (s *Source) draw(stream *chance.Stream) (values [quantities]float64, outside int) {
	var z [quantities]float64
	outside = -1
	for i := range z {
		z[i] = stream.Normal()
		sum := 0.0
		for k := range i + 1 {
			sum += float64(s.mixed[i][k] * z[k])
		}
		values[i] = s.normals[i].Mean + float64(s.normals[i].SD*sum)
		if outside < 0 && !(values[i] >= s.bounds[i].least && values[i] <= s.bounds[i].most) {
			outside = i
		}
	}
	if outside < 0 && s.hasMax() && values[maxWPerKg] < leastMaxFactor*values[wPerKg] {
		outside = maxWPerKg
	}
	return values, outside
}
