package ride

import "math"

// warmth is d ln ρ/dT of the air in 1/K at an elevation: it hardly differs over a
// course, so that a parabola through three elevations stands for it.
type warmth struct {
	lowM, halfM float64
	// level, slope and bend are the parabola's, in half spans from the middle.
	level, slope, bend float64
}

// warmth returns how the air over a road thins as it warms.
func (r *Road) warmth() warmth {
	a, known := r.air.moist()
	if !known {
		return warmth{halfM: 1}
	}
	low, high := r.air.startM, r.air.startM
	if c := r.course; c.HasElevation() {
		for _, z := range c.Z {
			low, high = min(low, z), max(high, z)
		}
	}
	w := warmth{lowM: low, halfM: max((high-low)/2, 1)}
	at := func(elevationM float64) float64 {
		const k = 0.5
		warm, cold := a.warmed(k).densityAt(elevationM), a.warmed(-k).densityAt(elevationM)
		return (warm - cold) / (warm + cold) / k
	}
	if r.Conditions.Indoor {
		w.level = at(r.air.startM)
		return w
	}
	bottom, middle, top := at(low), at(low+w.halfM), at(low+2*w.halfM)
	w.level, w.slope, w.bend = middle, (top-bottom)/2, (top+bottom)/2-middle
	return w
}

// at returns d ln ρ/dT in 1/K at an elevation of the course.
func (w warmth) at(elevationM float64) float64 {
	x := (elevationM-w.lowM)/w.halfM - 1
	return w.level + float64((w.slope+float64(w.bend*x))*x)
}

// moist returns the air by temperature, pressure and humidity; known is false where the
// density itself is given.
func (a air) moist() (moist air, known bool) {
	if a.standard {
		a.temperatureK, a.pressurePa, _ = StandardAir(a.startM)
		a.standard = false
	}
	a.constant = math.NaN()
	return a, a.temperatureK > 0
}

// warmed returns moist air with another temperature at the start and all the way up.
func (a air) warmed(byK float64) air {
	a.temperatureK += byK
	return a
}
