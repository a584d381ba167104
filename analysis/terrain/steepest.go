package terrain

import "parcours.example/analysis/course"

// windowsM returns the standard windows in metres.
func windowsM() []float64 { return []float64{25, 50, 100, 200, 500, 1000} }

// maxWindowM returns the window over which maxima are taken: 25 m, but never less
// than the spacing of the samples read or of the nodes, below which a gradient
// says nothing.
func maxWindowM(q course.Quality) float64 {
	w := float64(maxGradientWindowM)
	for _, spacing := range []float64{q.MedianStepM, q.SpacingM} {
		if spacing > w {
			w = spacing
		}
	}
	return w
}

// steepestWindows returns the steepest stretch of each standard window that fits.
func steepestWindows(p profile) []Window {
	var all []Window
	for _, w := range windowsM() {
		if best, ok := steepest(p, w); ok {
			all = append(all, best)
		}
	}
	return all
}

// maxGradientPct returns the steepest gradient over a window; over the whole
// profile where the window doesn't fit.
func maxGradientPct(p profile, window float64) float64 {
	if best, ok := steepest(p, window); ok {
		return best.GradientPct
	}
	return 100 * p.gradient(p.startM(), p.endM())
}

// steepest returns the first of the steepest stretches of a given length. The
// rise over a window of fixed length is piecewise linear in its start, with kinks
// only where an end of the window meets a node, so that the optimum is among the
// windows that start or end at a node.
func steepest(p profile, window float64) (Window, bool) {
	if window > p.lengthM()+indifferenceM {
		return Window{}, false
	}
	window = min(window, p.lengthM())
	best := Window{WindowM: window, StartM: p.startM(), GradientPct: 100 * p.gradient(p.startM(), p.startM()+window)}
	try := func(start, rise float64) {
		g := 100 * rise / window
		better := g > best.GradientPct+1e-9
		earlier := g > best.GradientPct-1e-9 && start < best.StartM
		if better || earlier {
			best.StartM, best.GradientPct = start, g
		}
	}
	last := len(p.s) - 1
	for i, behind, ahead := 0, 0, 0; i <= last; i++ {
		if from := p.s[i] - window; from >= p.startM() {
			for p.s[behind+1] <= from {
				behind++
			}
			try(from, p.z[i]-p.on(behind, from))
		}
		if to := p.s[i] + window; to <= p.endM() {
			for ahead < last-1 && p.s[ahead+1] < to {
				ahead++
			}
			try(p.s[i], p.on(ahead, to)-p.z[i])
		}
	}
	return best, true
}

// stretch returns a span of a profile with its gradients.
func stretch(p profile, s span, window float64) Stretch {
	in := p.cut(s.start, s.end)
	return Stretch{
		StartM: s.start, EndM: s.end,
		MeanGradientPct: 100 * in.gradient(s.start, s.end),
		MaxGradientPct:  maxGradientPct(in, window),
	}
}
