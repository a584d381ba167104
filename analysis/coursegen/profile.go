package coursegen

import "math"

// slope is a stretch of road with a gradient in per cent.
type slope struct{ lengthM, pct float64 }

// blendM is the length in metres over which one gradient goes over into the next,
// linearly, as a vertical curve of a road does.
const blendM = 20.0

// graded returns the road with the elevations that start at a base and follow
// slopes one after the other, as far as it goes. If it goes farther, the rest leads
// to the end elevation at one gradient.
func (p path) graded(base, end float64, slopes ...slope) path {
	rest := slope{lengthM: p.lengthM()}
	z := base
	for _, s := range slopes {
		rest.lengthM -= s.lengthM
		z += float64(s.lengthM * s.pct / 100)
	}
	if rest.lengthM > 0 {
		rest.pct = 100 * (end - z) / rest.lengthM
		slopes = append(slopes[:len(slopes):len(slopes)], rest)
	}
	out := make(path, len(p))
	at := 0.0
	for i, q := range p {
		if i > 0 {
			at += p[i-1].to(q)
		}
		out[i] = point{q.E, q.N, base + riseAt(slopes, at)}
	}
	return out
}

// riseAt returns how far slopes have risen at a distance, with each change of
// gradient spread evenly over blendM around it: with x from its middle, a change of
// Δ adds Δ·(x + b/2)²/2b within the blend and Δ·x after it.
func riseAt(slopes []slope, at float64) float64 {
	gradient := slopes[0].pct / 100
	rise := float64(gradient * at)
	change := 0.0
	for i, s := range slopes[:len(slopes)-1] {
		change += s.lengthM
		delta := (slopes[i+1].pct - s.pct) / 100
		switch x := at - change; {
		case x > blendM/2:
			rise += float64(delta * x)
		case x > -blendM/2:
			rise += float64(delta * (x + blendM/2) * (x + blendM/2) / (2 * blendM))
		}
	}
	return rise
}

// rolling returns the road with waves of an amplitude and about a wavelength, in
// metres, laid over its elevations; they are 0 and start rising at both ends.
func (p path) rolling(amplitudeM, wavelengthM float64) path {
	waves := max(1, math.Round(p.lengthM()/wavelengthM))
	out := make(path, len(p))
	for i, q := range p {
		q.Z += float64(amplitudeM * math.Sin(2*math.Pi*waves*float64(i)/float64(len(p)-1)))
		out[i] = q
	}
	return out
}
