package terrain

import "math"

// bandsPct returns the gradients, in per cent, at which one band ends and the next
// begins.
func bandsPct() []float64 { return []float64{-15, -10, -6, -3, -1, 1, 3, 6, 10, 15} }

// gradientBands returns the length ridden in each band of gradient; the lengths sum
// to the profile's.
func gradientBands(p profile) []Band {
	edges := bandsPct()
	bands := make([]Band, len(edges)+1)
	for i := range bands {
		bands[i].FromPct, bands[i].ToPct = math.Inf(-1), math.Inf(1)
		if i > 0 {
			bands[i].FromPct = edges[i-1]
		}
		if i < len(edges) {
			bands[i].ToPct = edges[i]
		}
	}
	for i := 1; i < len(p.s); i++ {
		ds := p.s[i] - p.s[i-1]
		// A gradient that is an edge but for rounding belongs above it.
		pct := 100*(p.z[i]-p.z[i-1])/ds + 1e-9
		b := 0
		for b < len(edges) && pct >= edges[b] {
			b++
		}
		bands[b].LengthM += ds
	}
	return bands
}
