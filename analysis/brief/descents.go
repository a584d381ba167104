package brief

import (
	"sort"

	"parcours.example/analysis/terrain"
)

const (
	// mostDescents is the most descents that are told.
	mostDescents = 4
	// leastDropM is the least that a descent without bends must drop to be told.
	leastDropM = 20
)

// descents tells the biggest descents with their tightest bends, in course order.
func (w writer) descents() block {
	if w.in.Indoor {
		return block{}
	}
	all := w.in.Terrain.Descents
	var biggest []int
	for i, d := range all {
		if d.DropM >= leastDropM || len(d.SharpestBends) > 0 {
			biggest = append(biggest, i)
		}
	}
	sort.SliceStable(biggest, func(a, b int) bool { return all[biggest[a]].DropM > all[biggest[b]].DropM })
	biggest = biggest[:min(len(biggest), mostDescents)]
	sort.Ints(biggest)
	var lines [][]said
	for _, i := range biggest {
		lines = append(lines, []said{{rankDescent, w.descent(all[i])}})
	}
	heading := "Descents and bends"
	if len(biggest) == 0 {
		heading = "Bends"
	}
	return bullets(heading, append(lines, []said{{rankDescent, w.tightBends()}})...)
}

func (w writer) descent(d terrain.Descent) phrase {
	from := capital(w.from(d.ID+".start_m", d.StartM))
	if n := len(d.Passes); n > 1 {
		from = say("{} (first of {} times)", from, w.count(d.ID+".passes", n))
	}
	p := say("{}: {} down at {}, {} lower", from, w.length(d.ID+".length_m", d.LengthM()),
		w.gradient(d.ID+".mean_gradient_pct", -d.MeanGradientPct), w.height(d.ID+".drop_m", d.DropM))
	if len(d.SharpestBends) > 0 {
		b := d.SharpestBends[0]
		p = say("{}; tightest bend about {} in radius, at {}", p, w.radius(d.ID+".bend-1.radius_m", b.RadiusM), w.length(d.ID+".bend-1.at_m", b.AtM))
	}
	return say("{}.", p)
}

// tightBends counts the bends that call for the brakes.
func (w writer) tightBends() phrase {
	const tight = 30
	n := 0
	for _, b := range w.in.Terrain.Bends {
		if b.RadiusM < tight {
			n++
		}
	}
	if n == 0 {
		return phrase{}
	}
	limit := w.radius("tight_bends.below_m", tight)
	if n == 1 {
		return say("One bend is tighter than {} in radius.", limit)
	}
	return capital(say("{} bends in all are tighter than {} in radius.", w.count("tight_bends", n), limit))
}
