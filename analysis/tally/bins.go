package tally

import (
	"math"
	"math/bits"
)

const (
	fineMs    = 100  // width of the fine bins
	fineEndMs = 1600 // where they end
	perOctave = 8    // bins of each doubling from there on
	octaves   = 11
	fineBins  = 1 + fineEndMs/fineMs
	countBins = fineBins + octaves*perOctave
)

// bins count times: the first those of 0, then each a range of times, the last all longer
// ones too.
type bins [countBins]uint16

// binOf returns the bin of a time in ms, ≥ 0.
func binOf(ms int64) int {
	switch {
	case ms == 0:
		return 0
	case ms < fineEndMs:
		return 1 + int(ms/fineMs)
	}
	octave := bits.Len64(uint64(ms/fineEndMs)) - 1
	start := int64(fineEndMs) << octave
	return min(fineBins+octave*perOctave+int((ms-start)*perOctave/start), countBins-1)
}

// startOf returns the time in s at which a bin begins; that of the bin after the last is
// where that ends.
func startOf(bin int) float64 {
	switch {
	case bin == 0:
		return 0
	case bin < fineBins:
		return float64((bin-1)*fineMs) / 1000
	}
	octave, part := (bin-fineBins)/perOctave, (bin-fineBins)%perOctave
	return float64(int64(fineEndMs)<<octave) * float64(perOctave+part) / (perOctave * 1000)
}

func (b *bins) add(ms int64) { b[binOf(ms)]++ }

// at returns the time in s below which a share of n times lies, as if times were spread
// evenly in each bin.
func (b *bins) at(share float64, n int) float64 {
	rank := share * float64(n)
	below := 0.0
	for bin, c := range b {
		count := float64(c)
		if count > 0 && below+count >= rank {
			start := startOf(bin)
			if bin == 0 {
				return start
			}
			return start + float64((startOf(bin+1)-start)*((rank-below)/count))
		}
		below += count
	}
	return startOf(countBins)
}

// quantile returns the time below which a share of n times lies.
func (b *bins) quantile(share float64, n int) Quantile {
	if n == 0 {
		return Quantile{math.NaN(), math.NaN()}
	}
	d := math.Sqrt(share * (1 - share) / float64(n))
	low, high := b.at(max(0, share-d), n), b.at(min(1, share+d), n)
	return Quantile{b.at(share, n), (high - low) / 2}
}
