package track

import (
	"fmt"
	"strings"

	"parcours.example/analysis/geodesy"
)

// Options say what to read of a file and how much of it at most.
type Options struct {
	// Track is the 1-based number of the line to read, the tracks counted first
	// and then the routes, in file order. At 0 it is the first track with two or
	// more points, else the first such route.
	Track int
	// Limits bound the file; each limit left at 0 is that of DefaultLimits.
	Limits Limits
}

// DefaultLimits returns what a file may hold unless said otherwise: 1,000,000
// points, 2,000 marks, elements 64 deep, names of 200 runes, 20,000 tracks, routes
// and segments together, and 20,000,000 elements.
func DefaultLimits() Limits {
	return Limits{
		Points: 1_000_000, Marks: 2_000, Depth: 64, NameRunes: 200,
		Parts: 20_000, Elements: 20_000_000,
	}
}

// orDefault returns l with DefaultLimits in the place of each limit that is 0.
func (l Limits) orDefault() Limits {
	d := DefaultLimits()
	for _, f := range []struct{ limit, standard *int }{
		{&l.Points, &d.Points},
		{&l.Marks, &d.Marks},
		{&l.Depth, &d.Depth},
		{&l.NameRunes, &d.NameRunes},
		{&l.Parts, &d.Parts},
		{&l.Elements, &d.Elements},
	} {
		if *f.limit == 0 {
			*f.limit = *f.standard
		}
	}
	return l
}

// ReadGPX reads a GPX file, version 1.0 or 1.1 (Topografix schemas of 2002 and
// 2004), in UTF-8, UTF-16 with a byte order mark or any encoding that the file
// declares. The segments of a track are joined in file order. Every position must
// be present and in range; an elevation that can't be read is left out (NaN) with
// a warning, because the line is usable without it. Waypoints and the named points
// of the line become marks. Times and all else in the file are ignored.
//
// Every error is an *Error. Memory grows with the file's bytes and with 32 bytes
// a point, not with what the file's elements would make of themselves.
func ReadGPX(data []byte, opt Options) (*Track, error) {
	limits := opt.Limits.orDefault()
	text, guessed, err := decodeText(data)
	if err != nil {
		return nil, err
	}
	f := newFilter(text, limits)
	if guessed {
		f.notes.addFile("encoding-guessed",
			"The file is not in the encoding that it declares; it was read as Windows-1252, names may hold wrong letters.")
	}
	var c contents
	for !f.done {
		if err := c.read(f); err != nil {
			return nil, err
		}
	}
	f.noteTrailing()
	return c.choose(opt.Track, limits, f.notes)
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
	t := &Track{Name: l.name, Points: l.points, Breaks: l.breaks, Marks: append(c.marks, l.named...)}
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
			"Track %d was asked for, but the file holds %d tracks and routes; ask for one of these, or for none to take the first.", asked, len(lines))}
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
	if len(lines) == 0 {
		return 0, &Error{Code: CodeNoLine, Detail: fmt.Sprintf(
			"The file holds no track and no route (but %d waypoints); export the course itself as a track.", marks)}
	}
	return 0, &Error{
		Code:   CodeNoLine,
		Detail: "No track or route of the file has two points or more; export the course itself as a track.",
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
		"The file holds several tracks or routes; number %d (%s) was read. The option track takes another: %s.",
		chosen+1, lines[chosen].title(), strings.Join(others, ", ")))
}

// title names the line for people.
func (l *line) title() string {
	kind := "track"
	if l.id.part == "rte" {
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
	for _, b := range l.breaks {
		if gap := geodesy.Distance(l.points[b-1].Pos, l.points[b].Pos); gap > widest {
			notes.add(l.id, b, "segment-gap", fmt.Sprintf(
				"A new segment of the track starts %.0f m from the end of the one before; they were joined by a straight line.", gap))
		}
	}
}
