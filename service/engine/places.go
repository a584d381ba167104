package engine

import (
	"cmp"
	"slices"

	"parcours.example/analysis/plan"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/terrain"
)

const (
	// leastFlatM is the length from which what lies between climbs and descents is a place.
	leastFlatM = 200.0
	// windTurnM is how far the wind must blow from ahead or behind to be told as such, and
	// windTurnMps how hard.
	windTurnM, windTurnMps = 400.0, 1.0
)

// placesOf returns what there is to see on a stretch of the course: its parts, every pass
// of climbs, sections, descents, false flats and marks, and the flats between them, cut
// where the wind turns. Positions are on the ride's own axis.
func placesOf(c *Course, road *ride.Road, from, to float64) []plan.Place {
	p := places{from: from, to: to}
	for _, part := range c.Parts {
		p.add(plan.Place{Of: plan.OfPart, Kind: string(part.Kind), Lap: part.Lap}, part.StartM, part.EndM)
	}
	for _, climb := range c.Terrain.Climbs {
		p.addClimb(climb)
	}
	for _, d := range c.Terrain.Descents {
		p.addPasses(plan.Place{Of: plan.OfDescent, ID: d.ID}, d.Passes)
	}
	for _, f := range c.Terrain.Climbing.FalseFlats {
		p.addPasses(plan.Place{Of: plan.OfFalseFlat}, f.Passes)
	}
	p.addFlats(road)
	for _, m := range c.Terrain.Marks {
		for i, pass := range m.Passes {
			p.add(plan.Place{Of: plan.OfMark, ID: m.ID, Name: m.Name, Kind: string(m.Kind), Lap: pass.Lap, Pass: passOf(i, len(m.Passes))}, pass.AtM, pass.AtM)
		}
	}
	return p.all
}

// places gathers places on a stretch.
type places struct {
	from, to float64
	all      []plan.Place
}

// add adds as much of a place as lies on the stretch.
func (p *places) add(place plan.Place, startM, endM float64) {
	point := startM == endM
	startM, endM = max(startM, p.from), min(endM, p.to)
	if startM > endM || (startM == endM && !point) {
		return
	}
	place.StartM, place.EndM = startM-p.from, endM-p.from
	p.all = append(p.all, place)
}

// passOf numbers a pass, 0 for the only one.
func passOf(i, n int) int {
	if n == 1 {
		return 0
	}
	return i + 1
}

func (p *places) addPasses(place plan.Place, passes []terrain.Pass) {
	for i, pass := range passes {
		place.Lap, place.Pass = pass.Lap, passOf(i, len(passes))
		p.add(place, pass.StartM, pass.EndM)
	}
}

// addClimb adds the passes of a climb with their sections, which are those of the first
// pass, at the same distance from the foot as far as the pass goes.
func (p *places) addClimb(c terrain.Climb) {
	p.addPasses(plan.Place{Of: plan.OfClimb, ID: c.ID, Name: c.Name}, c.Passes)
	if len(c.Sections) < 2 {
		return
	}
	for i, pass := range c.Passes {
		scale := 1.0
		if !pass.Partial {
			scale = (pass.EndM - pass.StartM) / c.LengthM()
		}
		for k, s := range c.Sections {
			start, end := pass.StartM+float64(scale*(s.StartM-c.StartM)), pass.StartM+float64(scale*(s.EndM-c.StartM))
			p.add(plan.Place{
				Of: plan.OfSection, ID: c.ID, Name: c.Name, Section: k + 1, Lap: pass.Lap, Pass: passOf(i, len(c.Passes)),
			}, start, min(end, pass.EndM))
		}
	}
}

// addFlats adds what no climb, descent or false flat covers, part by part.
func (p *places) addFlats(road *ride.Road) {
	var covered, parts []plan.Place
	for _, place := range p.all {
		switch place.Of {
		case plan.OfPart:
			parts = append(parts, place)
		case plan.OfClimb, plan.OfDescent, plan.OfFalseFlat:
			covered = append(covered, place)
		}
	}
	slices.SortStableFunc(covered, func(a, b plan.Place) int { return cmp.Compare(a.StartM, b.StartM) })
	for _, part := range parts {
		at := part.StartM
		for _, place := range covered {
			if place.EndM <= at || place.StartM >= part.EndM {
				continue
			}
			p.addFlat(road, part.Lap, at, place.StartM)
			at = max(at, place.EndM)
		}
		p.addFlat(road, part.Lap, at, part.EndM)
	}
}

// addFlat adds a flat, cut where the wind turns.
func (p *places) addFlat(road *ride.Road, lap int, startM, endM float64) {
	if endM-startM < leastFlatM {
		return
	}
	for _, w := range windsOn(road, startM, endM) {
		p.add(plan.Place{Of: plan.OfFlat, Kind: w.kind, Lap: lap}, w.startM+p.from, w.endM+p.from)
	}
}

// windy is a stretch with the wind from one side.
type windy struct {
	kind         string
	startM, endM float64
}

// windsOn cuts a stretch of road where the wind turns to blow from ahead, from behind, or
// neither. What is shorter than a turn of the wind belongs to what comes before it.
func windsOn(road *ride.Road, startM, endM float64) []windy {
	var runs []windy
	for i := range road.Pieces {
		p := &road.Pieces[i]
		if p.EndM <= startM || p.StartM >= endM {
			continue
		}
		kind := ""
		switch {
		case p.HeadwindMps >= windTurnMps:
			kind = plan.KindHeadwind
		case p.HeadwindMps <= -windTurnMps:
			kind = plan.KindTailwind
		}
		if n := len(runs); n > 0 && runs[n-1].kind == kind {
			runs[n-1].endM = p.EndM
		} else {
			runs = append(runs, windy{kind, p.StartM, p.EndM})
		}
	}
	var kept []windy
	for _, r := range runs {
		n := len(kept)
		switch {
		case n > 0 && (kept[n-1].kind == r.kind || r.endM-r.startM < windTurnM):
			kept[n-1].endM = r.endM
		case n == 1 && kept[0].endM-kept[0].startM < windTurnM:
			kept[0].kind, kept[0].endM = r.kind, r.endM
		default:
			kept = append(kept, r)
		}
	}
	kept[0].startM, kept[len(kept)-1].endM = startM, endM
	return kept
}
