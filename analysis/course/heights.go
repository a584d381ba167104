package course

import (
	"math"
	"slices"
)

// heights are the known elevations of a line: distance and elevation of each, in
// metres, in order.
type heights struct{ s, z []float64 }

// heights returns a copy of the line's known elevations.
func (l *line) heights() heights {
	h := heights{s: make([]float64, 0, len(l.s)), z: make([]float64, 0, len(l.s))}
	for i, v := range l.z {
		if !math.IsNaN(v) {
			h.s, h.z = append(h.s, l.s[i]), append(h.z, v)
		}
	}
	return h
}

// compact takes out the samples whose elevation is NaN.
func (h *heights) compact() {
	kept := 0
	for i, v := range h.z {
		if !math.IsNaN(v) {
			h.s[kept], h.z[kept] = h.s[i], v
			kept++
		}
	}
	h.s, h.z = h.s[:kept], h.z[:kept]
}

// forget makes NaN of the samples from i up to end; compact takes them out.
func (h *heights) forget(i, end int) {
	for ; i < end; i++ {
		h.z[i] = math.NaN()
	}
}

// runEnd returns the index after the run of equal elevations that starts at i.
func (h *heights) runEnd(i int) int {
	end := i + 1
	for end < len(h.z) && h.z[end] == h.z[i] {
		end++
	}
	return end
}

// jumps reports whether the elevation jumps by more than a height from sample i to j.
func (h *heights) jumps(i, j int, jump float64) bool {
	rise := math.Abs(h.z[j] - h.z[i])
	return rise > jump && rise > float64(jumpGradient*(h.s[j]-h.s[i]))
}

// gradient is that of the chord between two samples.
func (h *heights) gradient(i, j int) float64 {
	return (h.z[j] - h.z[i]) / (h.s[j] - h.s[i])
}

// away returns how far sample i lies above the chord between two others, in metres.
func (h *heights) away(i, from, to int) float64 {
	return h.z[i] - h.z[from] - float64(h.gradient(from, to)*(h.s[i]-h.s[from]))
}

// departures returns for each sample how far it is off the line between its
// neighbours; 0 at the ends.
func (h *heights) departures() []float64 {
	r := make([]float64, len(h.z))
	for k := 1; k+1 < len(r); k++ {
		r[k] = h.away(k, k-1, k+1)
	}
	return r
}

// roughNoise returns a rough upper estimate of the standard deviation of the noise:
// the median departure is 0.6745·√(3/2) of it for evenly spaced samples of a line.
func (h *heights) roughNoise() float64 {
	r := h.departures()
	for i := range r {
		r[i] = math.Abs(r[i])
	}
	if len(r) == 0 {
		return 0
	}
	slices.Sort(r)
	return r[len(r)/2] / (0.6745 * math.Sqrt(1.5))
}
