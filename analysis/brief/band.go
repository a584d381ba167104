package brief

import (
	"math"

	"parcours.example/analysis/ride"
	"parcours.example/analysis/wording"
)

// doubts names what a time's band comes from, by the source of its share.
var doubts = map[string]string{
	"mass_kg": "the mass", "cda_m2": "the drag area", "crr": "the rolling resistance", "power_pct": "the power",
	"wind_mps": "the wind", "temperature_c": "the temperature", "drivetrain_efficiency": "the drivetrain",
}

// band tells how far a time can be trusted, and what is most in doubt.
func (w writer) band(i int) phrase {
	b, fact := w.in.Rides[i].Band, rideFact(i)
	if b == nil || len(b.Shares) == 0 || math.IsNaN(b.LowS) {
		return phrase{}
	}
	largest := words(doubts[largestShare(b)])
	low, high := w.clock(fact+".time_low_s", b.LowS), w.clock(fact+".time_high_s", b.HighS)
	switch {
	case math.IsNaN(b.HighS):
		slower := w.certainty(fact+".slower_pct", (100+b.CoveragePct)/2)
		return say("With {} certainty {} or slower, perhaps to a halt; the largest doubt is {}.", slower, low, largest)
	case high.text == low.text:
		return phrase{}
	}
	return say("With {} certainty between {} and {}; the largest doubt is {}.", w.certainty(fact+".coverage_pct", b.CoveragePct), low, high, largest)
}

// certainty writes a probability in per cent.
func (f format) certainty(name string, pct float64) phrase {
	return number(name, pct, wording.Certainty(pct))
}

// largestShare returns the source of most of the variance.
func largestShare(b *ride.Band) string {
	largest := b.Shares[0]
	for _, s := range b.Shares {
		if s.Share > largest.Share {
			largest = s
		}
	}
	return largest.Source
}
