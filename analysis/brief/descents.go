package brief

import (
	"fmt"
	"sort"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
)

const (
	// mostDescents is the most descents that are told.
	mostDescents = 4
	// leastDropM is the least that a descent without bends must drop to be told.
	leastDropM = 20
	// tightM is the radius in m below which a bend calls for the brakes.
	tightM = 30
)

// toldDescents are the biggest descents, in course order. Indoors nobody steers.
func (w writer) toldDescents() []int {
	if w.in.Indoor {
		return nil
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
	return biggest
}

// descents tells the biggest descents with their tightest bends.
func (w writer) descents() [][]said {
	var lines [][]said
	for _, i := range w.toldDescents() {
		lines = append(lines, []said{{rankDescent, w.descent(w.in.Terrain.Descents[i])}})
	}
	return lines
}

func (w writer) descent(d terrain.Descent) phrase {
	from := w.from(d.ID+".start_m", d.StartM)
	if n := len(d.Passes); n > 1 {
		from = say("{}, ridden {}", from, w.times(d.ID+".passes", n))
	}
	p := say("{} {}: {} at {}, {} lower", strong(words("Descent")), from, w.length(d.ID+".length_m", d.LengthM()),
		w.gradient(d.ID+".mean_gradient_pct", -d.MeanGradientPct), w.height(d.ID+".drop_m", d.DropM))
	if len(d.SharpestBends) > 0 {
		b := d.SharpestBends[0]
		p = say("{}; tightest bend about {} in radius, at {}", p, w.radius(d.ID+".bend-1.radius_m", b.RadiusM), w.length(d.ID+".bend-1.at_m", b.AtM))
	}
	return say("{}.", p)
}

// tightBends tells the bends that call for the brakes, but those that are told with laps,
// descents, a turn or a hill climb.
func (w writer) tightBends() phrase {
	if w.in.Indoor || w.kind() == kindHillClimb {
		return phrase{}
	}
	told := map[float64]bool{}
	for _, i := range w.toldDescents() {
		if b := w.in.Terrain.Descents[i].SharpestBends; len(b) > 0 {
			told[b[0].AtM] = true
		}
	}
	if t, found := w.turnBend(); found && w.kind() == kindTimeTrial {
		told[t.AtM] = true
	}
	var tight []terrain.Bend
	for _, b := range w.in.Terrain.Bends {
		if b.RadiusM < tightM && !told[b.AtM] && w.kindAt(b.AtM) != course.Lap {
			tight = append(tight, b)
		}
	}
	if len(tight) == 0 {
		return phrase{}
	}
	label := plural("Tight bend", len(tight))
	if len(told) > 0 {
		label = plural("Other tight bend", len(tight))
	}
	limit := w.radius("tight_bends.below_m", tightM)
	if n := len(tight); n > mostInFull {
		return say("{} (below {} in radius): {}, the first {}.", strong(label), limit, w.count("tight_bends", n), w.at("tight_bends-1.at_m", tight[0].AtM))
	}
	at := make([]phrase, len(tight))
	for i, b := range tight {
		at[i] = w.length(fmt.Sprintf("tight_bends-%d.at_m", i+1), b.AtM)
	}
	return say("{} (below {} in radius): at {}.", strong(label), limit, list(at...))
}
