package aid

import (
	"math"
	"testing"
)

// BenchmarkFind100km is one aid for one rider over 100 km in 10,000 pieces and more.
func BenchmarkFind100km(b *testing.B) {
	r := road(b, 100_000, func(s float64) float64 {
		return 300 + 40*math.Sin(2*math.Pi*s/3_100) + 9*math.Sin(2*math.Pi*s/900) + 3*math.Sin(2*math.Pi*s/410)
	})
	s := scene(b, r, 230)
	for _, a := range []Aid{dragAid(), massAid(), wakeAid()} {
		b.Run(a.Name, func(b *testing.B) {
			for b.Loop() {
				if _, err := Find(b.Context(), s, &a); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
