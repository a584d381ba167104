package capability

import "math"

// hyperbola is the weighted least squares of y on height/(base + shift) + level. For a
// given shift the rest is linear, so the sum of squares is a function of the shift alone
// (variable projection), whose every minimum can be found.
type hyperbola struct {
	base, y, weight []float64
	// levelled says that the level is free; else it is 0.
	levelled bool
}

// solution is the best height and level for a shift.
type solution struct {
	shift, height, level float64
	// squares is the weighted sum of squared residuals, slope its derivative by the shift.
	squares, slope float64
}

// at solves for a shift.
func (h *hyperbola) at(shift float64) solution {
	s := solution{shift: shift}
	var u0, y0 float64
	if h.levelled {
		var all float64
		for i, w := range h.weight {
			all += w
			u0 += w / (h.base[i] + shift)
			y0 += float64(w * h.y[i])
		}
		u0, y0 = u0/all, y0/all
	}
	var uu, uy float64
	for i, w := range h.weight {
		u := 1/(h.base[i]+shift) - u0
		uu += float64(w * u * u)
		uy += float64(w * u * (h.y[i] - y0))
	}
	s.height = uy / uu
	s.level = y0 - float64(s.height*u0)
	for i, w := range h.weight {
		u := 1 / (h.base[i] + shift)
		// The level is taken out of both first: near an exact fit all digits count.
		residual := h.y[i] - y0 - float64(s.height*(u-u0))
		s.squares += float64(w * residual * residual)
		// The derivative by height and level is zero here, that by the shift remains.
		s.slope += float64(2 * w * residual * s.height * u * u)
	}
	return s
}

// step is the ratio of successive shifts that are tried. Each term 1/(base + shift)
// changes over a range of some ten times in the shift, so that two minima within one
// step aren't to be expected; a test compares with a far finer search.
const step = 1.1

// minima returns the solutions of all local minima for shifts of low…high, both above 0,
// and those at both ends.
func (h *hyperbola) minima(low, high float64) (found []solution, ends [2]solution) {
	last := h.at(low)
	ends[0] = last
	for last.shift < high {
		next := h.at(min(last.shift*step, high))
		if last.slope <= 0 && next.slope > 0 {
			found = append(found, h.between(last.shift, next.shift))
		}
		last = next
	}
	ends[1] = last
	return found, ends
}

// between returns the solution where the slope turns from falling to rising, to the last
// digits of the shift.
func (h *hyperbola) between(low, high float64) solution {
	best := h.at(low)
	for range 60 {
		middle := math.Sqrt(low * high)
		if !(low < middle && middle < high) {
			break
		}
		if s := h.at(middle); s.slope > 0 {
			high = middle
		} else {
			low, best = middle, s
		}
	}
	return best
}
