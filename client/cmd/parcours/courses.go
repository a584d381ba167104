package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"regexp"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// readingFlags say how a course's file is read.
type readingFlags struct {
	Name    string   `group:"course" help:"A name for the course instead of the file's."`
	Laps    int      `group:"course" help:"The file holds one lap; the race rides it this many times in all. Left out, laps are detected."`
	LapLine string   `group:"course" help:"The name of a mark that is the line of the laps that are detected."`
	Reverse bool     `group:"course" help:"Ride the course the other way round."`
	Track   int      `group:"course" help:"Which of the file's tracks (then routes), counted from 1. Left out, the first with a line."`
	StartM  *float64 `group:"course" placeholder:"M" help:"Cut off what lies before this position, in metres along the course without a cut."`
	EndM    *float64 `group:"course" placeholder:"M" help:"Cut off what lies behind this position, in metres along the course without a cut."`
	Mark    []string `group:"course" sep:"none" placeholder:"name=NAME,at_m=M" help:"A mark beside the file's, repeatable: comma-separated key=value of name, kind (sprint, summit, gate, feed, other) and at_m, or lat_deg and lon_deg, the latter with heading_deg if it counts in one direction only."`

	Smoothing        string   `group:"course" enum:"auto,none,light,strong," default:"" placeholder:"HOW" help:"How the profile is conditioned: auto, none, light or strong. Left out, auto."`
	SpacingM         *float64 `group:"course" placeholder:"M" help:"The distance between samples of the conditioned course, in metres. Left out, 10."`
	AscentThresholdM *float64 `group:"course" placeholder:"M" help:"A rise or fall counts once it exceeds this, in metres. Left out, 1."`
}

// parameters are the flags as the call that reads a file takes them.
func (f readingFlags) parameters() *contract.AnalyseCourseParams {
	return &contract.AnalyseCourseParams{
		Name: given(f.Name), Laps: given(f.Laps), LapLine: given(f.LapLine), Reverse: given(f.Reverse), Track: given(f.Track),
		StartM: f.StartM, EndM: f.EndM, Mark: listOf(f.Mark), Smoothing: given(contract.Smoothing(f.Smoothing)),
		SpacingM: f.SpacingM, AscentThresholdM: f.AscentThresholdM,
	}
}

// listOf is a list that was given; nil for an empty one.
func listOf[T any](list []T) *[]T {
	if len(list) == 0 {
		return nil
	}
	return &list
}

// courseFlags name the course that a call is about.
type courseFlags struct {
	Course string `arg:"" optional:"" name:"course" help:"Route file (GPX, GeoJSON, KML, FIT, TCX or a table of values, also compressed), - for standard input, or the id of a course that was analysed before."`

	readingFlags `embed:""`
}

// courseID is what ids of courses look like.
var courseID = regexp.MustCompile(`^[0-9a-f]{32}$`)

// isID reports whether a name is a course's id and no file's.
func isID(name string) bool {
	_, err := os.Stat(name)
	return err != nil && courseID.MatchString(name)
}

// reference reads the course's file, where it is one, and returns how to refer to the course.
// Without one it is the request's own.
func (f courseFlags) reference(s *session, own contract.CourseReference) (contract.CourseReference, error) {
	name := f.Course
	if name == "" {
		if own.CourseID == nil && own.File == nil && own.Profile == nil {
			return own, wrongUsage("name a course's file, or - for standard input")
		}
		return own, nil
	}
	if isID(name) {
		return client.CourseByID(name), nil
	}
	course, err := s.analyse(name, f.parameters())
	if err != nil {
		return own, err
	}
	return client.CourseByID(course.CourseID), nil
}

// analyse sends a file to be read, and tells on a terminal how much of a large one is sent.
func (s *session) analyse(name string, parameters *contract.AnalyseCourseParams) (*contract.Course, error) {
	c, err := s.ask()
	if err != nil {
		return nil, err
	}
	content, closed, err := s.open(name)
	if err != nil {
		return nil, err
	}
	defer closed()
	var course *contract.Course
	err = s.sending(func(ctx context.Context) error {
		course, err = c.AnalyseCourse(ctx, client.File{Content: content}, parameters)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", calledIn(name), err)
	}
	return course, nil
}

// calledIn is what a file is called in messages.
func calledIn(name string) string {
	if name == "-" {
		return "standard input"
	}
	return name
}

// open opens a file, or standard input for "-".
func (s *session) open(name string) (content io.Reader, closed func(), err error) {
	if name == "-" {
		return s.std.in, func() {}, nil
	}
	f, err := os.Open(name) //nolint:gosec // named by the person who asks
	if err != nil {
		return nil, nil, err
	}
	return f, func() { _ = f.Close() }, nil // only read
}
