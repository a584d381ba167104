package picture

import (
	"strings"

	"parcours.example/analysis/terrain"
	"parcours.example/analysis/wording"
)

// mostTold is the most climbs or places that a description names.
const mostTold = 12

// climbNumbers writes a climb's length and mean gradient.
func (s *sheet) climbNumbers(c terrain.Climb) string {
	return s.Units.Length(c.LengthM()) + " at " + wording.Gradient(c.MeanGradientPct)
}

// describeCourse tells a profile in words.
func (s *sheet) describeCourse(g *ground, leftOut int) {
	s.d.Title = s.title() + ": profile"
	told := []string{s.summary() + "."}
	if s.Course.HasElevation() {
		told = append(told, capital(s.exaggeration(g))+".")
	}
	told = append(told, s.listed("Climbs: ", s.climbsTold()), s.listed("Places: ", s.marksTold()), leftOutTold(leftOut))
	s.d.describe(told...)
}

// describe sets what there is to tell.
func (d *Drawing) describe(told ...string) {
	var some []string
	for _, t := range told {
		if t != "" {
			some = append(some, t)
		}
	}
	d.Description = strings.Join(some, " ")
}

// climbsTold tells each climb with its numbers and where its first pass starts.
func (s *sheet) climbsTold() (told []string) {
	for _, c := range s.Terrain.Climbs {
		if c.ParentID == "" {
			told = append(told, climbName(c)+", "+s.climbNumbers(c)+", "+s.from(c.StartM)+times(len(c.Passes)))
		}
	}
	return told
}

// marksTold tells each mark with where its first pass is.
func (s *sheet) marksTold() (told []string) {
	for _, m := range s.Terrain.Marks {
		if len(m.Passes) > 0 {
			told = append(told, markName(m)+", "+s.Units.Length(m.Passes[0].AtM)+times(len(m.Passes)))
		}
	}
	return told
}

// times says how often something is passed, where it is more than once.
func times(n int) string {
	if n < 2 {
		return ""
	}
	return ", " + wording.Count(n) + " times"
}

// listed sets a list after its heading; nothing where it is empty.
func (s *sheet) listed(heading string, told []string) string {
	if len(told) == 0 {
		return ""
	}
	more := ""
	if n := len(told) - mostTold; n > 0 {
		told, more = told[:mostTold], "; and "+wording.Count(n)+" more"
	}
	return heading + strings.Join(told, "; ") + more + "."
}

// leftOutTold says how many labels found no room.
func leftOutTold(n int) string {
	switch n {
	case 0:
		return ""
	case 1:
		return "One label found no room."
	}
	return wording.Count(n) + " labels found no room."
}

// capital begins a sentence.
func capital(words string) string {
	if words == "" {
		return ""
	}
	return strings.ToUpper(words[:1]) + words[1:]
}
