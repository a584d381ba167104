package track

import (
	"fmt"
	"slices"
	"strings"

	"parcours.example/analysis/geodesy"
)

// line is one line of the file that may be a course: a track, a route, a geometry.
type line struct {
	id     lineID
	name   string
	points []Point
	// distanceM is the distance of each point where the points have no positions.
	distanceM []float64
	breaks    []int
	// named are the marks among the line's own points.
	named []Mark
}

// contents are a file's lines and places. Formats that know but one sort of line have
// them all in tracks.
type contents struct {
	name           string
	tracks, routes []line
	// rings are the borders of areas, which are lines where there are no others.
	rings []line
	marks []Mark
}

func (l *line) setName(name string) {
	if name != "" {
		l.name = name
	}
}

// useRings takes the borders of areas for lines if there are no others.
func (c *contents) useRings(notes *notebook) {
	isLine := func(l line) bool { return len(l.points) >= 2 }
	if slices.ContainsFunc(c.tracks, isLine) || len(c.rings) == 0 {
		return
	}
	c.tracks = c.rings
	notes.addFile("ring-as-line", "The file holds no line, only areas; the border of an area was read as the line, from its first point around to it.")
}

// choose returns the asked line as a track, or says why there is none.
func (c *contents) choose(asked int, limits Limits, notes notebook) (*Track, error) {
	lines := append(c.tracks, c.routes...)
	n, err := pick(lines, asked, len(c.marks))
	if err != nil {
		return nil, err
	}
	l := &lines[n]
	if asked == 0 {
		noteOthers(lines, n, &notes)
	}
	l.noteGaps(&notes)
	t := &Track{Name: l.name, Points: l.points, DistanceM: l.distanceM, Breaks: l.breaks, Marks: append(c.marks, l.named...)}
	if t.Name == "" {
		t.Name = c.name
	}
	if len(t.Marks) > limits.Marks {
		t.Marks = t.Marks[:limits.Marks]
		notes.addFile("marks-dropped",
			fmt.Sprintf("Only the first %d named places are used.", limits.Marks))
	}
	t.Warnings = notes.warnings(l.id)
	return t, nil
}

// pick returns the index of the asked line, counted from 1, or at 0 of the first
// line of two or more points.
func pick(lines []line, asked, marks int) (int, error) {
	if asked < 0 || asked > len(lines) {
		return 0, &Error{Code: CodeNoSuchTrack, Detail: fmt.Sprintf(
			"Track %d was asked for, but the number of lines in the file is %d; ask for one of these, or for none to take the first.", asked, len(lines))}
	}
	if asked > 0 {
		if len(lines[asked-1].points) < 2 {
			return 0, &Error{Code: CodeNoLine, Detail: fmt.Sprintf(
				"Track %d has %d points; a course needs at least two. Ask for another track of the file.", asked, len(lines[asked-1].points))}
		}
		return asked - 1, nil
	}
	for i := range lines {
		if len(lines[i].points) >= 2 {
			return i, nil
		}
	}
	if len(lines) == 0 && marks > 0 {
		return 0, &Error{Code: CodeNoLine, Detail: fmt.Sprintf(
			"The file holds no line that could be a course, only single places (%d of them); export the course itself as a line.", marks)}
	}
	return 0, &Error{
		Code:   CodeNoLine,
		Detail: "No line of the file has two points or more; export the course itself as a line.",
	}
}

// noteOthers warns about the lines that were passed over.
func noteOthers(lines []line, chosen int, notes *notebook) {
	const most = 10
	var others []string
	for i := range lines {
		if i == chosen || len(lines[i].points) < 2 {
			continue
		}
		if len(others) == most {
			others = append(others, "…")
			break
		}
		others = append(others, fmt.Sprintf("%d (%s)", i+1, lines[i].title()))
	}
	if others == nil {
		return
	}
	notes.addFile("several-tracks", fmt.Sprintf(
		"The file holds several lines; number %d (%s) was read. The option track takes another: %s.",
		chosen+1, lines[chosen].title(), strings.Join(others, ", ")))
}

// title names the line for people.
func (l *line) title() string {
	kind := "line"
	switch l.id.part {
	case "trk":
		kind = "track"
	case "rte":
		kind = "route"
	}
	if l.name != "" {
		return fmt.Sprintf("%s %q, %d points", kind, l.name, len(l.points))
	}
	return fmt.Sprintf("%s without a name, %d points", kind, len(l.points))
}

// noteGaps warns where consecutive segments do not meet.
func (l *line) noteGaps(notes *notebook) {
	const widest = 100 // m
	if l.distanceM != nil {
		return // its points have no positions
	}
	for _, b := range l.breaks {
		if gap := geodesy.Distance(l.points[b-1].Pos, l.points[b].Pos); gap > widest {
			notes.add(l.id, b, "segment-gap", fmt.Sprintf(
				"A new segment of the track starts %.0f m from the end of the one before; they were joined by a straight line.", gap))
		}
	}
}
