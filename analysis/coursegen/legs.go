package coursegen

// leg is a road and how many times it is ridden: a closed one for laps, others once.
type leg struct {
	road  path
	times int
}

// once is a leg ridden once.
func once(road path) leg { return leg{road, 1} }

// tour rides legs one after the other. What is ridden two times or more are laps;
// the circuit that covers most is the one of the layout's laps.
func tour(legs ...leg) layout {
	var lo layout
	var rings []ring
	for _, g := range legs {
		if g.times > 1 {
			r := ring{lap: len(g.road) - 1}
			first := max(0, len(lo.path)-1)
			for i := range g.times {
				r.starts = append(r.starts, first+i*r.lap)
			}
			rings = append(rings, r)
		}
		lo.path = join(lo.path, g.road.repeated(g.times))
	}
	main := 0
	for i, r := range rings {
		if r.steps() > rings[main].steps() {
			main = i
		}
	}
	lo.shape, lo.ring = "lapped", rings[main]
	lo.others = append(rings[:main:main], rings[main+1:]...)
	return lo
}

// laps is a lead-in, n laps of a closed road and a run-out; either end may be nil.
func laps(leadIn, road path, n int, runOut path) layout {
	return tour(once(leadIn), leg{road, n}, once(runOut))
}
