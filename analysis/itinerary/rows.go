package itinerary

import (
	"cmp"
	"math"
	"slices"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
)

// onePlaceM is how near to each other things fall on one row, in metres.
const onePlaceM = 5

// order is the order in which the things of a row are named.
var order = []Kind{
	Start, Finish, RacingBegins, Lap, OtherLap, RunOut, Top, SteepEnd, Sprint, Summit, Gate, Feed, Other, Foot, SteepStart,
}

// standing says how much a kind's position counts where things share a row: the lower,
// the more. The row stands where the thing that counts most is.
func standing(k Kind) int {
	switch k {
	case Start, Finish:
		return 0
	case RacingBegins:
		return 1
	case Lap, OtherLap, RunOut:
		return 2
	}
	return 3
}

// Rows returns the rows of a course in order, the first at the start and the last at the
// finish. The terrain must be the course's. A neutral stretch that ends at neutralEndM
// within the course has its end among them; 0 for none.
func Rows(c *course.Course, t *terrain.Terrain, neutralEndM float64) []Row {
	things := []Thing{{Kind: Start}, {Kind: Finish, Lap: c.LapAt(c.LengthM()), atM: c.LengthM()}}
	if neutralEndM > 0 {
		things = append(things, Thing{Kind: RacingBegins, atM: neutralEndM})
	}
	things = append(things, lines(c)...)
	things = append(things, climbs(t)...)
	things = append(things, marks(t)...)
	for i := range things {
		things[i].atM = min(max(things[i].atM, 0), c.LengthM())
	}
	slices.SortStableFunc(things, func(a, b Thing) int { return cmp.Compare(a.atM, b.atM) })
	return merged(c, things)
}

// Holds reports whether a row is there for a thing of a kind.
func (r Row) Holds(kind Kind) bool {
	return slices.ContainsFunc(r.Things, func(t Thing) bool { return t.Kind == kind })
}

// lines are where laps begin and where they have ended.
func lines(c *course.Course) (things []Thing) {
	for _, p := range c.Parts {
		switch p.Kind {
		case course.Lap:
			things = append(things, Thing{Kind: Lap, Lap: p.Lap, atM: p.StartM})
		case course.RunOut:
			things = append(things, Thing{Kind: RunOut, atM: p.StartM})
		}
	}
	for i, o := range c.OtherCircuits {
		for lap := range o.Count {
			at := o.StartM + float64((o.EndM-o.StartM)*(float64(lap)/float64(o.Count)))
			things = append(things, Thing{Kind: OtherLap, Index: i, Lap: lap + 1, atM: at})
		}
	}
	return things
}

// climbs are the ends of every pass of every climb. A pass that the finish cuts short has
// no top.
func climbs(t *terrain.Terrain) (things []Thing) {
	for i, c := range t.Climbs {
		foot, top := Foot, Top
		if c.ParentID != "" {
			foot, top = SteepStart, SteepEnd
		}
		for j, p := range c.Passes {
			one := Thing{Kind: foot, Index: i, Lap: p.Lap, Pass: j + 1, Passes: len(c.Passes), atM: p.StartM}
			things = append(things, one)
			if one.Kind, one.atM = top, p.EndM; !p.Partial {
				things = append(things, one)
			}
		}
	}
	return things
}

// marks are the passes of every mark.
func marks(t *terrain.Terrain) (things []Thing) {
	kinds := map[track.MarkKind]Kind{track.Sprint: Sprint, track.Summit: Summit, track.Gate: Gate, track.Feed: Feed}
	for i, m := range t.Marks {
		kind, known := kinds[m.Kind]
		if !known {
			kind = Other
		}
		for j, p := range m.Passes {
			things = append(things, Thing{Kind: kind, Index: i, Lap: p.Lap, Pass: j + 1, Passes: len(m.Passes), atM: p.AtM})
		}
	}
	return things
}

// merged gathers things in course order into rows.
func merged(c *course.Course, things []Thing) []Row {
	var rows []Row
	for len(things) > 0 {
		n := 1
		for n < len(things) && things[n].atM-things[0].atM <= onePlaceM && (things[0].Kind != Start || things[n].Kind != Finish) {
			n++
		}
		rows = append(rows, row(c, things[:n]))
		things = things[n:]
	}
	return rows
}

// row puts things on one row.
func row(c *course.Course, things []Thing) Row {
	at := slices.MinFunc(things, func(a, b Thing) int { return cmp.Compare(standing(a.Kind), standing(b.Kind)) }).atM
	slices.SortStableFunc(things, func(a, b Thing) int {
		return cmp.Compare(slices.Index(order, a.Kind), slices.Index(order, b.Kind))
	})
	r := Row{AtM: at, ToFinishM: c.LengthM() - at, ElevationM: math.NaN(), Lap: c.LapAt(at), Things: things}
	if c.HasElevation() {
		r.ElevationM = c.ElevationAt(at)
	}
	return r
}
