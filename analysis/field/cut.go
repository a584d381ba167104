package field

import (
	"fmt"
	"math"

	"parcours.example/analysis/chance"
)

// Cut is what drawing riders again does to a group, as sampled by 4,096 draws that have
// nothing to do with any seed.
type Cut struct {
	// Share is that of riders drawn again, 0…0.5, SE its standard error.
	Share, SE float64
	// MassKg, WPerKg, WPrimeJ and MaxWPerKg are the distributions that are left, with a
	// standard error of the mean of SD/64 at the most; a MaxWPerKg.Mean of NaN where it
	// isn't drawn.
	MassKg, WPerKg, WPrimeJ, MaxWPerKg Normal
}

// Cut returns what is cut off.
func (s *Source) Cut() Cut { return s.cut }

const cutDraws = 4096

// measureCut samples what is cut off, and refuses where it is too much.
func (s *Source) measureCut() error {
	stream := chance.New(0, chance.Name("cut"))
	var outside [quantities]int
	var kept [quantities]sums
	again := 0
	for range cutDraws {
		values, out := s.draw(&stream)
		if out >= 0 {
			outside[out]++
			again++
			continue
		}
		for i, v := range values {
			kept[i].add(v - s.normals[i].Mean)
		}
	}
	share := float64(again) / cutDraws
	if share > mostCut {
		return s.refusal(share, outside)
	}
	s.cut = Cut{Share: share, SE: math.Sqrt(share * (1 - share) / cutDraws)}
	for i, to := range []*Normal{mass: &s.cut.MassKg, wPerKg: &s.cut.WPerKg, wPrime: &s.cut.WPrimeJ, maxWPerKg: &s.cut.MaxWPerKg} {
		*to = kept[i].normal(s.normals[i].Mean)
	}
	if !s.hasMax() {
		s.cut.MaxWPerKg = Normal{math.NaN(), math.NaN()}
	}
	return nil
}

// refusal names the quantity that is outside most often.
func (s *Source) refusal(share float64, outside [quantities]int) error {
	worst := 0
	for i, n := range outside {
		if n > outside[worst] {
			worst = i
		}
	}
	q := s.bounds[worst]
	detail := fmt.Sprintf("%.0f %% of such riders are outside what riders are, most by %s, which must be within %v…%v %s", 100*share, q.name, q.least, q.most, q.unit)
	if worst == maxWPerKg {
		detail += fmt.Sprintf(" and %v times critical power or more", leastMaxFactor)
	}
	return &Error{q.name, fmt.Sprintf("%s; at most %.0f %% are drawn again.", detail, 100*mostCut)}
}

// sums gather a mean and a standard deviation of differences to a value.
type sums struct{ n, sum, squares float64 }

func (s *sums) add(d float64) {
	s.n++
	s.sum += d
	s.squares += float64(d * d)
}

func (s *sums) normal(about float64) Normal {
	mean := s.sum / s.n
	return Normal{about + mean, math.Sqrt(max(0, s.squares/s.n-float64(mean*mean)))}
}
