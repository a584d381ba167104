package picture

import (
	"slices"

	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
)

// The ranks of labels on a profile.
const (
	rankClimb = iota
	rankLine
	rankSummit
	rankPlace
	rankAgain // added for passes after the first
)

// climbLabels are those of every pass of every climb that is no part of another.
func (s *sheet) climbLabels(g *ground) (labels []label) {
	for _, c := range s.Terrain.Climbs {
		if c.ParentID != "" {
			continue
		}
		for i, p := range c.Passes {
			forms := []string{climbName(c)}
			if i == 0 {
				forms = []string{climbName(c) + ", " + s.climbNumbers(c), climbName(c)}
			}
			if p.EndM < g.fromM || p.EndM > g.toM {
				continue
			}
			labels = append(labels, s.label(forms, p.EndM, rankClimb, i))
		}
	}
	return labels
}

// label is one of a place on the ground; pass is 0 for its first pass.
func (s *sheet) label(forms []string, m float64, rank, pass int) label {
	l := label{forms: forms, atM: m, ink: s.ink.Ink, rank: rank}
	for i, f := range forms {
		forms[i] = s.face.fitted(f, s.textPx, float64(s.WidthPx)/2)
	}
	if pass > 0 {
		l.rank += rankAgain
		l.ink = s.ink.Muted
	}
	return l
}

// markLabels are those of every pass on the ground of every mark. A summit that a climb is
// named after needs none of its own.
func (s *sheet) markLabels(g *ground) (labels []label) {
	for _, m := range s.Terrain.Marks {
		if m.Kind == track.Summit && s.namesClimb(m.Name) {
			continue
		}
		for i, p := range m.Passes {
			if p.AtM < g.fromM || p.AtM > g.toM {
				continue
			}
			forms := []string{markName(m)}
			if i == 0 && p.AtM >= atStartM {
				forms = []string{markName(m) + ", " + s.Units.Length(p.AtM), markName(m)}
			}
			labels = append(labels, s.label(forms, p.AtM, markRank(m.Kind), i))
		}
	}
	return labels
}

// namesClimb reports whether a climb of the overview bears a name.
func (s *sheet) namesClimb(name string) bool {
	return name != "" && slices.ContainsFunc(s.Terrain.Climbs, func(c terrain.Climb) bool { return c.Name == name && c.ParentID == "" })
}

// atStartM is the distance from the start in metres up to which a place needs no number.
const atStartM = 10

// markRank is how important the label of a kind of mark is.
func markRank(kind track.MarkKind) int {
	switch kind {
	case track.Sprint:
		return rankLine
	case track.Summit:
		return rankSummit
	}
	return rankPlace
}
