package main

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// analyseCommand tells how courses are built.
type analyseCommand struct {
	Course []string `arg:"" name:"course" help:"Route files (GPX, GeoJSON, KML, FIT, TCX or tables of values, also compressed), - for standard input, or ids of courses that were analysed before."`

	readingFlags `embed:""`
	pictureFlags `embed:""`

	Table []string `group:"look" enum:"courses,parts,climbs,sections,steepest,descents,marks,bends,gradients,warnings" placeholder:"NAME" help:"Tables to print: courses (one row each), parts, climbs, sections of climbs, steepest stretches, descents, marks, bends, gradients, warnings. Left out: for one course what matters of it, else courses."`
}

// Run asks for each file and prints what was answered; those that fail are told, and the
// others still analysed.
func (c *analyseCommand) Run(s *session) error {
	if err := c.check(); err != nil {
		return err
	}
	var courses []*contract.Course
	failed := false
	for _, name := range c.Course {
		course, err := c.analyse(s, name)
		if err == nil && s.look.JSON {
			err = s.raw()
		}
		if err != nil {
			if s.ctx.Err() != nil || len(c.Course) == 1 {
				return err
			}
			s.tell(err)
			failed = true
			continue
		}
		courses = append(courses, course)
	}
	if !s.look.JSON {
		if err := c.print(s, courses); err != nil {
			return err
		}
	}
	if failed {
		return errTold
	}
	return nil
}

// check refuses what can't be done for the courses that are asked for.
func (c *analyseCommand) check() error {
	if len(c.Course) > 1 && c.Picture != "" {
		return wrongUsage("--picture: a picture is of one course")
	}
	if slices.Contains(c.Course, "-") && len(c.Course) > 1 {
		return wrongUsage("standard input is one course; give files beside each other")
	}
	return c.pictureFlags.check()
}

// analyse asks for one course and draws it, if that is asked for.
func (c *analyseCommand) analyse(s *session, name string) (*contract.Course, error) {
	course, err := s.courseOf(name, c.readingFlags)
	if err != nil || c.Picture == "" {
		return course, err
	}
	body := slices.Clone(s.wire.last.Bytes())
	err = c.drawCourse(s, course.CourseID, "")
	s.wire.last.Reset()
	s.wire.last.Write(body)
	return course, err
}

// courseOf is the analysis of a file, or of a course that was analysed before.
func (s *session) courseOf(name string, f readingFlags) (*contract.Course, error) {
	if !isID(name) {
		return s.analyse(name, f.parameters())
	}
	c, err := s.ask()
	if err != nil {
		return nil, err
	}
	return c.Course(s.ctx, name)
}

// drawCourse draws a course into the picture's file.
func (f pictureFlags) drawCourse(s *session, id, focus string) error {
	form, err := f.form()
	if err != nil {
		return err
	}
	c, err := s.ask()
	if err != nil {
		return err
	}
	picture, err := c.CoursePicture(s.ctx, id, form, &contract.DrawCourseParams{
		Focus: given(focus), Width: given(f.Width), Height: given(f.Height),
		Theme: given(contract.PictureTheme(f.Theme)), Units: given(contract.Units(s.units.name())),
	})
	if err != nil {
		return err
	}
	return f.write(picture)
}

// print prints the tables that are asked for.
func (c *analyseCommand) print(s *session, courses []*contract.Course) error {
	tables := courseTables(s.units, courses)
	switch {
	case len(courses) == 0:
		return nil
	case s.look.CSV:
		if len(c.Table) > 1 {
			return wrongUsage("--csv is one table; name it with --table")
		}
		return tables[append(c.Table, "courses")[0]].spreadsheet(s.std.out)
	case len(c.Table) > 0:
		for i, name := range c.Table {
			if i > 0 {
				s.gap()
			}
			tables[name].people(s.std.out, s.screen)
		}
	case len(courses) > 1:
		tables["courses"].people(s.std.out, s.screen)
	default:
		c.one(s, courses[0], tables)
	}
	return nil
}

// one prints what matters of a course.
func (c *analyseCommand) one(s *session, course *contract.Course, tables map[string]printable) {
	s.heading(orUnnamed(course.Name))
	s.say(courseWords(s.units, course)...)
	for _, name := range []string{"parts", "climbs", "marks", "warnings"} {
		if !tables[name].nothing() {
			s.gap()
			tables[name].people(s.std.out, s.screen)
		}
	}
}

func orUnnamed(name *string) string {
	if text(name) == "" {
		return "(a course without a name)"
	}
	return text(name)
}

// courseWords are a course's main facts, one in each line.
func courseWords(u units, c *contract.Course) []string {
	first := u.length(c.DistanceM) + " " + u.long()
	if c.AscentM != nil {
		first += fmt.Sprintf(", climbing %s %s", u.height(*c.AscentM), u.short())
	}
	lines := []string{first + "; " + shapeWords(u, c)}
	if share := c.Climbing.ShareBeforeLastClimb; share != nil {
		lines = append(lines, fmt.Sprintf("%s %% of the climbing is done before the last climb.", rounded(100**share, 0)))
	}
	return append(lines, "Id: "+c.CourseID)
}

// shapeWords are how a course is laid.
func shapeWords(u units, c *contract.Course) string {
	switch c.Shape {
	case contract.CourseShapeLapped:
		if c.Laps.LengthM == nil {
			return fmt.Sprintf("%d laps", c.Laps.Count)
		}
		return fmt.Sprintf("%d laps of %s %s", c.Laps.Count, u.length(*c.Laps.LengthM), u.long())
	case contract.CourseShapeOutAndBack:
		return "out and back"
	case contract.CourseShapePointToPoint:
		return "point to point"
	}
	return string(c.Shape)
}

// partWords is what a part of a course is called.
func partWords(kind string) string { return strings.ReplaceAll(kind, "_", "-") }

// printable is a table of any kind.
type printable interface {
	people(out io.Writer, s screen)
	spreadsheet(out io.Writer) error
	nothing() bool
}

// nothing reports whether the table has no rows.
func (t table[T]) nothing() bool { return len(t.rows) == 0 }

// drawCommand draws a course.
type drawCommand struct {
	courseFlags  `embed:""`
	pictureFlags `embed:""`

	Focus string `group:"look" placeholder:"WHAT" help:"What is drawn: profile, climb-1 and so on, laps or map. Left out, the profile."`
}

// Run draws.
func (c *drawCommand) Run(s *session) error {
	if c.Picture == "" {
		return wrongUsage("name the picture's file with --picture")
	}
	if err := c.pictureFlags.check(); err != nil {
		return err
	}
	course, err := c.reference(s, contract.CourseReference{})
	if err != nil {
		return err
	}
	err = c.drawCourse(s, *course.CourseID, c.Focus)
	if errors.Is(err, client.NotComputable) || errors.Is(err, client.NotFound) {
		return fmt.Errorf("--focus %s: %w", c.Focus, err)
	}
	return err
}
