package brief

import (
	"fmt"
	"math"
	"sort"

	"parcours.example/analysis/terrain"
)

// valleyM is the least road between a descent and the next foot that is a valley, in m.
// Our choice: less is ridden in a minute.
const valleyM = 700

// upAndDown tells the climbs and the descents of a mountain stage in the order they are
// ridden, with the valleys between.
func (w writer) upAndDown() block {
	type place struct {
		at   float64
		line []said
	}
	var places []place
	for i, c := range w.in.Terrain.Climbs {
		if c.ParentID == "" {
			places = append(places, place{c.StartM, w.climbLine(i)})
		}
	}
	for _, i := range w.toldDescents() {
		d := w.in.Terrain.Descents[i]
		places = append(places, place{d.StartM, []said{{rankDescent, w.descent(d)}, {rankDescent, w.valley(d)}}})
	}
	sort.SliceStable(places, func(a, b int) bool { return places[a].at < places[b].at })
	lines := make([][]said, len(places))
	for i, p := range places {
		lines[i] = p.line
	}
	return bullets("Up and down", lines...)
}

// shareOfMountains tells how much of a mountain stage's climbing comes before its last
// climb, where that doesn't end at the line.
func (w writer) shareOfMountains() phrase {
	share := w.in.Terrain.Climbing.ShareBeforeLastClimb
	if w.kind() != kindMountainStage || math.IsNaN(share) || share < 0.005 || endsAtLine(w.in.Terrain.Climbs[w.key()]) {
		return phrase{}
	}
	last := 0
	for i, c := range w.in.Terrain.Climbs {
		if c.ParentID == "" && c.Passes[len(c.Passes)-1].StartM >= w.in.Terrain.Climbs[last].Passes[0].StartM {
			last = i
		}
	}
	told := w.share("share_before_last_climb", share)
	if last == w.key() {
		return say("{} of the climbing precedes it.", told)
	}
	return say("{} of the climbing precedes {}, the last.", told, w.climbName(last))
}

// valley tells what lies between a descent and the foot of the next climb.
func (w writer) valley(d terrain.Descent) phrase {
	next, found := terrain.Climb{}, false
	for _, c := range w.in.Terrain.Climbs {
		if c.ParentID == "" && c.StartM >= d.EndM-atEndM && (!found || c.StartM < next.StartM) {
			next, found = c, true
		}
	}
	switch {
	case !found:
		return phrase{}
	case next.StartM-d.EndM < valleyM:
		return words("The next climb follows at once.")
	}
	return say("{} of valley follow before the next climb.", capital(w.length(fmt.Sprintf("%s.valley_m", d.ID), next.StartM-d.EndM)))
}
