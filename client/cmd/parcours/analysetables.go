package main

import (
	"parcours.example/api/contract"
)

// of is a thing of a course, beside the course.
type of[T any] struct {
	course *contract.Course
	thing  T
}

// each lists things of all courses.
func each[T any](courses []*contract.Course, things func(*contract.Course) []T) (all []of[T]) {
	for _, c := range courses {
		for _, t := range things(c) {
			all = append(all, of[T]{c, t})
		}
	}
	return all
}

// things is a table of things of courses; spreadsheets name the course in front, and so do
// people where there are several.
func things[T any](title string, courses []*contract.Course, list func(*contract.Course) []T, columns []column[of[T]]) table[of[T]] {
	front := []column[of[T]]{
		{left: true, text: func(t of[T]) string { return orUnnamed(t.course.Name) }, name: "course", value: func(t of[T]) any { return t.course.Name }},
		{name: "course_id", value: func(t of[T]) any { return t.course.CourseID }},
	}
	if len(courses) > 1 {
		front[0].head = "course"
	}
	return table[of[T]]{title: title, rows: each(courses, list), columns: append(front, columns...)}
}

// courseTables are the tables of an analysis by their names.
func courseTables(u units, courses []*contract.Course) map[string]printable {
	return map[string]printable{
		"courses":   coursesTable(u, courses),
		"parts":     partsTable(u, courses),
		"climbs":    climbsTable(u, courses),
		"sections":  sectionsTable(u, courses),
		"steepest":  steepestTable(u, courses),
		"descents":  descentsTable(u, courses),
		"marks":     marksTable(u, courses),
		"bends":     bendsTable(u, courses),
		"gradients": gradientsTable(u, courses),
		"warnings":  warningsTable(u, courses),
	}
}

func coursesTable(u units, courses []*contract.Course) printable {
	type course = *contract.Course
	return table[course]{rows: courses, columns: []column[course]{
		{head: "course", left: true, text: func(c course) string { return orUnnamed(c.Name) }, name: "name", value: func(c course) any { return c.Name }},
		{name: "course_id", value: func(c course) any { return c.CourseID }},
		{head: u.long(), text: func(c course) string { return u.length(c.DistanceM) }, name: "distance_m", value: func(c course) any { return c.DistanceM }},
		{head: "ascent " + u.short(), text: func(c course) string { return optional(c.AscentM, u.height) }, name: "ascent_m", value: func(c course) any { return c.AscentM }},
		{name: "descent_m", value: func(c course) any { return c.DescentM }},
		{head: "shape", left: true, text: func(c course) string { return shapeWords(u, c) }, name: "shape", value: func(c course) any { return c.Shape }},
		{name: "laps", value: func(c course) any { return c.Laps.Count }},
		{name: "lap_length_m", value: func(c course) any { return c.Laps.LengthM }},
		{head: "climbs", text: func(c course) string { return rounded(float64(len(c.Climbs)), 0) }, name: "climbs", value: func(c course) any { return len(c.Climbs) }},
		{head: "before last %", spare: 1, text: func(c course) string {
			return optional(c.Climbing.ShareBeforeLastClimb, func(x float64) string { return rounded(100*x, 0) })
		}, name: "share_before_last_climb", value: func(c course) any { return c.Climbing.ShareBeforeLastClimb }},
		{head: "warnings", spare: 2, text: func(c course) string { return rounded(float64(len(c.Quality.Warnings)), 0) }, name: "warnings", value: func(c course) any { return len(c.Quality.Warnings) }},
		{head: "id", spare: 3, text: func(c course) string { return c.CourseID }},
	}}
}

func partsTable(u units, courses []*contract.Course) printable {
	type part = of[contract.Part]
	return things("Parts", courses, func(c *contract.Course) []contract.Part { return c.Parts }, []column[part]{
		{head: "part", left: true, text: func(p part) string {
			kind := string(p.thing.Kind)
			return placeName(kind, &kind, nil, nil, p.thing.Lap)
		}, name: "kind", value: func(p part) any { return p.thing.Kind }},
		{name: "lap", value: func(p part) any { return p.thing.Lap }},
		{head: "from " + u.long(), text: func(p part) string { return u.position(p.thing.StartM) }, name: "start_m", value: func(p part) any { return p.thing.StartM }},
		{head: "to " + u.long(), text: func(p part) string { return u.position(p.thing.EndM) }, name: "end_m", value: func(p part) any { return p.thing.EndM }},
		{head: "length " + u.long(), text: func(p part) string { return u.position(p.thing.LengthM) }, name: "length_m", value: func(p part) any { return p.thing.LengthM }},
		{head: "ascent " + u.short(), text: func(p part) string { return optional(p.thing.AscentM, u.height) }, name: "ascent_m", value: func(p part) any { return p.thing.AscentM }},
		{name: "descent_m", value: func(p part) any { return p.thing.DescentM }},
	})
}

// climbPass is a pass of a climb.
type climbPass struct {
	contract.Climb
	pass contract.Pass
	nth  int
}

func climbPasses(c *contract.Course) (all []climbPass) {
	for _, climb := range c.Climbs {
		for i, pass := range climb.Passes {
			all = append(all, climbPass{climb, pass, i})
		}
	}
	return all
}

// first is a text on the first pass of a thing, and empty on later ones.
func (p climbPass) first(text string) string {
	if p.nth > 0 {
		return ""
	}
	return text
}

// climbName is a climb's name, or which climb it lies in.
func climbName(c contract.Climb) string {
	if c.Name == nil && c.ParentClimbID != nil {
		return "(in " + *c.ParentClimbID + ")"
	}
	return text(c.Name)
}

func climbsTable(u units, courses []*contract.Course) printable {
	type pass = of[climbPass]
	return things("Climbs, on every pass", courses, climbPasses, []column[pass]{
		{head: "climb", left: true, text: func(p pass) string { return p.thing.first(p.thing.ClimbID) }, name: "climb_id", value: func(p pass) any { return p.thing.ClimbID }},
		{head: "name", left: true, text: func(p pass) string { return p.thing.first(climbName(p.thing.Climb)) }, name: "name", value: func(p pass) any { return p.thing.Name }},
		{name: "parent_climb_id", value: func(p pass) any { return p.thing.ParentClimbID }},
		{head: u.long(), text: func(p pass) string { return p.thing.first(u.position(p.thing.LengthM)) }, name: "length_m", value: func(p pass) any { return p.thing.LengthM }},
		{head: "gain " + u.short(), text: func(p pass) string { return p.thing.first(u.height(p.thing.GainM)) }, name: "gain_m", value: func(p pass) any { return p.thing.GainM }},
		{head: "mean %", text: func(p pass) string { return p.thing.first(signed(p.thing.MeanGradientPct, 1)) }, name: "mean_gradient_pct", value: func(p pass) any { return p.thing.MeanGradientPct }},
		{head: "max %", text: func(p pass) string { return p.thing.first(signed(p.thing.MaxGradientPct, 1)) }, name: "max_gradient_pct", value: func(p pass) any { return p.thing.MaxGradientPct }},
		{name: "max_window_m", value: func(p pass) any { return p.thing.MaxWindowM }},
		{name: "h2_index", value: func(p pass) any { return p.thing.Difficulty.H2Index }},
		{head: "lap", text: func(p pass) string { return counted(p.thing.pass.Lap) }, name: "lap", value: func(p pass) any { return p.thing.pass.Lap }},
		{head: "from " + u.long(), text: func(p pass) string { return u.position(p.thing.pass.StartM) }, name: "start_m", value: func(p pass) any { return p.thing.pass.StartM }},
		{head: "to " + u.long(), spare: 1, text: func(p pass) string { return u.position(p.thing.pass.EndM) }, name: "end_m", value: func(p pass) any { return p.thing.pass.EndM }},
		{head: "to go " + u.long(), spare: 2, text: func(p pass) string { return u.position(p.thing.pass.ToFinishM) }, name: "to_finish_m", value: func(p pass) any { return p.thing.pass.ToFinishM }},
	})
}

// counted is a count that may be absent.
func counted(n *int) string {
	if n == nil {
		return ""
	}
	return rounded(float64(*n), 0)
}

// ofClimb is a thing of a climb.
type ofClimb[T any] struct {
	climb contract.Climb
	thing T
}

func ofClimbs[T any](list func(contract.Climb) []T) func(*contract.Course) []ofClimb[T] {
	return func(c *contract.Course) (all []ofClimb[T]) {
		for _, climb := range c.Climbs {
			for _, t := range list(climb) {
				all = append(all, ofClimb[T]{climb, t})
			}
		}
		return all
	}
}

func sectionsTable(u units, courses []*contract.Course) printable {
	type section = of[ofClimb[contract.Section]]
	return things("Sections of climbs, on the first pass", courses, ofClimbs(func(c contract.Climb) []contract.Section { return c.Sections }), []column[section]{
		{head: "climb", left: true, text: func(t section) string { return t.thing.climb.ClimbID }, name: "climb_id", value: func(t section) any { return t.thing.climb.ClimbID }},
		{head: "from " + u.long(), text: func(t section) string { return u.position(t.thing.thing.StartM) }, name: "start_m", value: func(t section) any { return t.thing.thing.StartM }},
		{head: "to " + u.long(), text: func(t section) string { return u.position(t.thing.thing.EndM) }, name: "end_m", value: func(t section) any { return t.thing.thing.EndM }},
		{head: "length " + u.short(), text: func(t section) string { return u.height(t.thing.thing.LengthM) }, name: "length_m", value: func(t section) any { return t.thing.thing.LengthM }},
		{head: "mean %", text: func(t section) string { return signed(t.thing.thing.MeanGradientPct, 1) }, name: "mean_gradient_pct", value: func(t section) any { return t.thing.thing.MeanGradientPct }},
		{head: "max %", text: func(t section) string { return signed(t.thing.thing.MaxGradientPct, 1) }, name: "max_gradient_pct", value: func(t section) any { return t.thing.thing.MaxGradientPct }},
	})
}

func steepestTable(u units, courses []*contract.Course) printable {
	type window = of[contract.Window]
	return things("Steepest stretches", courses, func(c *contract.Course) []contract.Window { return c.Steepest }, []column[window]{
		{head: "over " + u.short(), text: func(w window) string { return u.height(w.thing.WindowM) }, name: "window_m", value: func(w window) any { return w.thing.WindowM }},
		{head: "%", text: func(w window) string { return signed(w.thing.GradientPct, 1) }, name: "gradient_pct", value: func(w window) any { return w.thing.GradientPct }},
		{head: "from " + u.long(), text: func(w window) string { return u.position(w.thing.StartM) }, name: "start_m", value: func(w window) any { return w.thing.StartM }},
	})
}

func descentsTable(u units, courses []*contract.Course) printable {
	type descent = of[contract.Descent]
	return things("Descents, on the first pass", courses, func(c *contract.Course) []contract.Descent { return c.Descents }, []column[descent]{
		{head: "descent", left: true, text: func(d descent) string { return d.thing.DescentID }, name: "descent_id", value: func(d descent) any { return d.thing.DescentID }},
		{head: "from " + u.long(), text: func(d descent) string { return u.position(d.thing.StartM) }, name: "start_m", value: func(d descent) any { return d.thing.StartM }},
		{head: "to " + u.long(), text: func(d descent) string { return u.position(d.thing.EndM) }, name: "end_m", value: func(d descent) any { return d.thing.EndM }},
		{head: "drop " + u.short(), text: func(d descent) string { return u.height(d.thing.DropM) }, name: "drop_m", value: func(d descent) any { return d.thing.DropM }},
		{head: "mean %", text: func(d descent) string { return signed(d.thing.MeanGradientPct, 1) }, name: "mean_gradient_pct", value: func(d descent) any { return d.thing.MeanGradientPct }},
		{head: "max %", text: func(d descent) string { return signed(d.thing.MaxGradientPct, 1) }, name: "max_gradient_pct", value: func(d descent) any { return d.thing.MaxGradientPct }},
		{head: "passes", text: func(d descent) string { return rounded(float64(len(d.thing.Passes)), 0) }, name: "passes", value: func(d descent) any { return len(d.thing.Passes) }},
		{head: "sharpest bend " + u.short(), text: func(d descent) string { return sharpest(u, d.thing) }},
	})
}

// sharpest is the radius of a descent's sharpest bend.
func sharpest(u units, d contract.Descent) string {
	if len(d.SharpestBends) == 0 {
		return absent
	}
	least := d.SharpestBends[0].RadiusM
	for _, b := range d.SharpestBends {
		least = min(least, b.RadiusM)
	}
	return u.height(least)
}

// markPass is a pass of a mark.
type markPass struct {
	contract.Mark
	pass contract.MarkPass
	nth  int
}

func markPasses(c *contract.Course) (all []markPass) {
	for _, mark := range c.Marks {
		for i, pass := range mark.Passes {
			all = append(all, markPass{mark, pass, i})
		}
	}
	return all
}

func (p markPass) first(text string) string {
	if p.nth > 0 {
		return ""
	}
	return text
}

func marksTable(u units, courses []*contract.Course) printable {
	type pass = of[markPass]
	return things("Marks, on every pass", courses, markPasses, []column[pass]{
		{head: "mark", left: true, text: func(p pass) string { return p.thing.first(p.thing.MarkID) }, name: "mark_id", value: func(p pass) any { return p.thing.MarkID }},
		{head: "name", left: true, text: func(p pass) string { return p.thing.first(p.thing.Name) }, name: "name", value: func(p pass) any { return p.thing.Name }},
		{head: "kind", left: true, text: func(p pass) string { return p.thing.first(string(p.thing.Kind)) }, name: "kind", value: func(p pass) any { return p.thing.Kind }},
		{head: "lap", text: func(p pass) string { return counted(p.thing.pass.Lap) }, name: "lap", value: func(p pass) any { return p.thing.pass.Lap }},
		{head: "at " + u.long(), text: func(p pass) string { return u.position(p.thing.pass.AtM) }, name: "at_m", value: func(p pass) any { return p.thing.pass.AtM }},
		{head: "to go " + u.long(), text: func(p pass) string { return u.position(p.thing.pass.ToFinishM) }, name: "to_finish_m", value: func(p pass) any { return p.thing.pass.ToFinishM }},
		{head: "%", text: func(p pass) string { return optional(p.thing.pass.GradientPct, to(1)) }, name: "gradient_pct", value: func(p pass) any { return p.thing.pass.GradientPct }},
	})
}

func bendsTable(u units, courses []*contract.Course) printable {
	type bend = of[contract.Bend]
	return things("Bends", courses, func(c *contract.Course) []contract.Bend { return c.Bends }, []column[bend]{
		{head: "at " + u.long(), text: func(b bend) string { return u.position(b.thing.AtM) }, name: "at_m", value: func(b bend) any { return b.thing.AtM }},
		{head: "radius " + u.short(), text: func(b bend) string { return u.height(b.thing.RadiusM) }, name: "radius_m", value: func(b bend) any { return b.thing.RadiusM }},
		{head: "turn °", text: func(b bend) string { return signed(b.thing.TurnDeg, 0) }, name: "turn_deg", value: func(b bend) any { return b.thing.TurnDeg }},
	})
}

func gradientsTable(u units, courses []*contract.Course) printable {
	type band = of[contract.GradientBand]
	return things("Gradients", courses, func(c *contract.Course) []contract.GradientBand { return c.GradientBands }, []column[band]{
		{head: "from %", text: func(b band) string { return optional(b.thing.FromPct, to(0)) }, name: "from_pct", value: func(b band) any { return b.thing.FromPct }},
		{head: "to %", text: func(b band) string { return optional(b.thing.ToPct, to(0)) }, name: "to_pct", value: func(b band) any { return b.thing.ToPct }},
		{head: u.long(), text: func(b band) string { return u.position(b.thing.LengthM) }, name: "length_m", value: func(b band) any { return b.thing.LengthM }},
	})
}

func warningsTable(u units, courses []*contract.Course) printable {
	type warning = of[contract.Warning]
	return things("What is odd in the file", courses, func(c *contract.Course) []contract.Warning { return c.Quality.Warnings }, []column[warning]{
		{head: "at " + u.long(), text: func(w warning) string { return optional(w.thing.AtM, u.position) }, name: "at_m", value: func(w warning) any { return w.thing.AtM }},
		{head: "code", left: true, text: func(w warning) string { return w.thing.Code }, name: "code", value: func(w warning) any { return w.thing.Code }},
		{head: "what", left: true, wraps: true, text: func(w warning) string { return w.thing.Detail }, name: "detail", value: func(w warning) any { return w.thing.Detail }},
	})
}
