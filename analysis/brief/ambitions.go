package brief

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"parcours.example/analysis/aid"
	"parcours.example/analysis/choice"
	"parcours.example/analysis/launch"
	"parcours.example/analysis/tally"
	"parcours.example/analysis/track"
)

// Answers are what race questions came to, as packages choice, launch, aid, tally and duel
// found it. Each is nil where it wasn't asked.
type Answers struct {
	Setups   *SetupAnswer
	Launches *LaunchAnswer
	Aids     *AidAnswer
	Race     *RaceAnswer
}

// PlaceKind is what a place is.
type PlaceKind string

// The kinds of places.
const (
	AtFinish  PlaceKind = "finish"
	AtMark    PlaceKind = "mark"
	AtClimb   PlaceKind = "climb"
	AtPoint   PlaceKind = "point"
	AtStretch PlaceKind = "stretch"
)

// Place is a place or a stretch of the course that an answer is about.
type Place struct {
	Of PlaceKind
	// Index is that of a mark or a climb in the terrain, Pass which of its passes, counted
	// from 1; 0 for all of them.
	Index, Pass int
	// StartM and EndM are positions on the course, equal for all but climbs and stretches.
	StartM, EndM float64
	// Name is the caller's own, untrusted; the place's where empty.
	Name string
}

// goal is something to be good at: the finish, or a place that answers are about.
type goal struct {
	Place
	// setups are the indices of the ambitions in the answer about set-ups, launches those of
	// launches, contests those of contests that are decided here.
	setups, launches, contests []int
	// sprint is the index of the line to which aids are kept, −1 for none; aids says that gains
	// are taken here.
	sprint int
	aids   bool
	// guesses says that what is guessed of all launches is told here.
	guesses bool
}

// goals gathers what the answers are about: the finish first, then the places in the order
// of the road.
func (w teller) goals() []goal {
	goals := []goal{{Place: Place{Of: AtFinish}, sprint: -1}}
	at := func(p Place) *goal {
		p = w.plain(p)
		i := slices.IndexFunc(goals, func(g goal) bool { return samePlace(g.Place, p) })
		if i < 0 {
			i = len(goals)
			goals = append(goals, goal{Place: p, sprint: -1})
		}
		if goals[i].Name == "" {
			goals[i].Name = p.Name
		}
		return &goals[i]
	}
	a := w.Answers
	if a.Setups != nil {
		for _, i := range w.apart() {
			g := at(a.Setups.Ambitions[i])
			g.setups = append(g.setups, i)
		}
	}
	if a.Launches != nil {
		for i, l := range a.Launches.Launches {
			g := at(l.Passes[0])
			g.launches = append(g.launches, i)
		}
	}
	if a.Aids != nil {
		at(a.Aids.At).aids = true
		for i, line := range a.Aids.Lines {
			if a.Aids.worth(i) {
				at(line).sprint = i
			}
		}
	}
	if a.Race != nil {
		for i, c := range a.Race.Contests {
			if p, one := w.onePlace(c.Places); one {
				g := at(p)
				g.contests = append(g.contests, i)
			}
		}
	}
	slices.SortStableFunc(goals[1:], func(a, b goal) int { return cmp.Compare(a.StartM, b.StartM) })
	if i := slices.IndexFunc(goals, func(g goal) bool { return g.launches != nil }); i >= 0 {
		goals[i].guesses = true
	}
	return goals
}

// plain brings a place to that which it is about: all passes of a mark or a climb, and the
// finish where a mark is nothing but the line, or a climb is the whole course.
func (w teller) plain(p Place) Place {
	switch p.Of {
	case AtMark:
		m := w.in.Terrain.Marks[p.Index]
		if w.onlyAtFinish(m) {
			return Place{Of: AtFinish}
		}
		p.StartM = m.Passes[0].AtM
		p.EndM = p.StartM
	case AtClimb:
		c := w.in.Terrain.Climbs[p.Index]
		if c.LengthM() > w.in.Course.LengthM()-2*atEndM {
			return Place{Of: AtFinish}
		}
		p.StartM, p.EndM = c.StartM, c.EndM
	}
	p.Pass = 0
	return p
}

// samePlace tells whether answers about two places stand together.
func samePlace(a, b Place) bool {
	switch {
	case a.Of != b.Of:
		return false
	case a.Of == AtPoint || a.Of == AtStretch:
		return a.StartM == b.StartM && a.EndM == b.EndM
	}
	return a.Index == b.Index
}

// onePlace returns the place that all of a list are, if they are one.
func (w teller) onePlace(places []Place) (Place, bool) {
	if len(places) == 0 {
		return Place{}, false
	}
	first := w.plain(places[0])
	for _, p := range places[1:] {
		if !samePlace(w.plain(p), first) {
			return Place{}, false
		}
	}
	return first, true
}

// ambitions tells the answers, a section for each thing to be good at, and how the race is
// likely to go.
func (w writer) ambitions() []block {
	if w.in.Answers == nil {
		return nil
	}
	return teller{w, w.in.Answers}.blocks()
}

// answerCautions are those that go with the answers.
func (w writer) answerCautions() []string {
	a := w.in.Answers
	if a == nil {
		return nil
	}
	var cautions []string
	for _, c := range []struct {
		caution string
		goes    bool
	}{
		{launch.Caution, a.Launches != nil && !w.in.Indoor},
		{choice.ChangeCaution, a.Setups != nil && len(a.Setups.Changes) > 0},
		{aid.Caution, a.Aids != nil},
		{tally.RidingCaution, a.Race != nil},
		{tally.Caution, a.Race != nil},
	} {
		if c.goes {
			cautions = append(cautions, c.caution)
		}
	}
	return cautions
}

// teller writes what the answers say.
type teller struct {
	writer
	*Answers
}

func (w teller) blocks() []block {
	goals := w.goals()
	var blocks []block
	for _, g := range goals {
		if w.joins(g, goals) {
			continue
		}
		lines := slices.Concat(w.setupLines(g, strong(words("Set-up"))), w.launchLines(g), w.aidLines(g), w.contestLines(g))
		blocks = append(blocks, block{kind: bulleted, heading: w.goalHeading(g), lines: spoken(lines)})
	}
	for _, kind := range []string{climbGoal, sprintGoal, otherGoal} {
		var lines [][]said
		for _, g := range goals {
			if w.joins(g, goals) && w.goalKind(g.Place) == kind {
				lines = append(lines, w.setupLines(g, strong(capital(w.placeName(g.Place))))...)
			}
		}
		blocks = append(blocks, bullets("For the "+plural(kind, 2).text, lines...))
	}
	return append(blocks, w.race())
}

// joins reports whether a goal of which a set-up alone is told shares a section with others
// of its kind.
func (w teller) joins(g goal, goals []goal) bool {
	alone := func(g goal) bool {
		return g.Of != AtFinish && g.launches == nil && g.contests == nil && !g.aids && g.sprint < 0
	}
	alike := 0
	for _, other := range goals {
		if alone(other) && w.goalKind(other.Place) == w.goalKind(g.Place) {
			alike++
		}
	}
	return alone(g) && alike > 1
}

// The kinds of goals beside the finish.
const (
	climbGoal  = "climb"
	sprintGoal = "sprint"
	otherGoal  = "place"
)

func (w teller) goalKind(p Place) string {
	switch {
	case p.Of == AtClimb:
		return climbGoal
	case p.Of == AtMark && w.in.Terrain.Marks[p.Index].Kind == track.Sprint:
		return sprintGoal
	}
	return otherGoal
}

// goalHeading names what a section is for.
func (w teller) goalHeading(g goal) phrase {
	if g.Of == AtFinish {
		return words("For the overall")
	}
	kind, own := w.goalKind(g.Place), w.placeName(g.Place)
	if kind == otherGoal || strings.Contains(strings.ToLower(own.text), kind) {
		return say("For {}", own)
	}
	return say("For the {}: {}", words(kind), own)
}

// placeKey begins the names of facts about a place.
func (w teller) placeKey(p Place) string {
	key := ""
	switch p.Of {
	case AtFinish:
		return "finish"
	case AtPoint:
		return fmt.Sprintf("point-%.0f", p.StartM)
	case AtStretch:
		return fmt.Sprintf("stretch-%.0f-%.0f", p.StartM, p.EndM)
	case AtMark:
		key = w.in.Terrain.Marks[p.Index].ID
	case AtClimb:
		key = w.in.Terrain.Climbs[p.Index].ID
	}
	if p.Pass > 0 {
		key = fmt.Sprintf("%s.pass-%d", key, p.Pass)
	}
	return key
}
