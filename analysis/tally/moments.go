package tally

import (
	"math"
	"math/bits"
)

// mostValue is the largest magnitude of a value that moments tell from a larger one:
// with MostRuns of it n·Σq² stays below 2¹²⁷.
const mostValue = 1e11

// moments are the number, the sum and the sum of squares of values in thousandths, the
// last in 128 bits. All are exact, so that their order doesn't matter.
type moments struct {
	n, sum int64
	hi, lo uint64
}

// add counts a value; NaN is none.
func (m *moments) add(v float64) {
	if !math.IsNaN(v) {
		m.addThousandths(thousandths(v))
	}
}

func (m *moments) addThousandths(q int64) {
	m.n++
	m.sum += q
	size := magnitude(q)
	hi, lo := bits.Mul64(size, size)
	m.addSquares(hi, lo)
}

func (m *moments) addSquares(hi, lo uint64) {
	var carry uint64
	m.lo, carry = bits.Add64(m.lo, lo, 0)
	m.hi, _ = bits.Add64(m.hi, hi, carry)
}

func (m *moments) merge(other moments) {
	m.n += other.n
	m.sum += other.sum
	m.addSquares(other.hi, other.lo)
}

func magnitude(q int64) uint64 {
	if q < 0 {
		return uint64(-q)
	}
	return uint64(q)
}

// mean returns what the moments come to.
func (m moments) mean() Mean {
	out := Mean{N: int(m.n), Mean: math.NaN(), SD: math.NaN(), SE: math.NaN()}
	n := float64(m.n)
	if m.n > 0 {
		out.Mean = float64(m.sum) / n / 1000
	}
	if m.n > 1 {
		out.SD = math.Sqrt(m.spread()/(n*(n-1))) / 1000
		out.SE = out.SD / math.Sqrt(n)
	}
	return out
}

// over returns the mean of values divided by a number.
func (m Mean) over(n float64) Mean {
	size := math.Abs(n)
	return Mean{m.N, m.Mean / n, m.SD / size, m.SE / size}
}

// spread returns n·Σq² − (Σq)², exact but for the last rounding.
func (m moments) spread() float64 {
	n := uint64(m.n)
	carried, low := bits.Mul64(m.lo, n)
	high := m.hi*n + carried
	sum := magnitude(m.sum)
	squareHigh, squareLow := bits.Mul64(sum, sum)
	low, borrow := bits.Sub64(low, squareLow, 0)
	high, _ = bits.Sub64(high, squareHigh, borrow)
	return float64(float64(high)*(1<<64)) + float64(low)
}

// thousandths returns a value in whole thousandths.
func thousandths(v float64) int64 {
	return int64(math.Round(1000 * min(max(v, -mostValue), mostValue)))
}
