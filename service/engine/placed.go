package engine

import (
	"errors"
	"fmt"
	"slices"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// PlacedError is a fault of a file or of a course with the place in the request of
// what is at fault: ErrNotCached, a *track.Error or a *course.Error.
type PlacedError struct {
	// Pointer is the place in a JSON request, Parameter the query parameter where a
	// file is the whole body. At most one is set.
	Pointer, Parameter string
	Err                error
}

// Error implements error.
func (e *PlacedError) Error() string { return e.Err.Error() }

// Unwrap returns the fault.
func (e *PlacedError) Unwrap() error { return e.Err }

// at is the pointer to a part of the source, empty where the source has none.
func (s CourseSource) at(part string) string {
	if s.Pointer == "" {
		return ""
	}
	return s.Pointer + part
}

// placed adds to an error the place in the request of what it is about.
func (s CourseSource) placed(err error) error {
	var file *track.Error
	var made *course.Error
	var asked *Error
	switch {
	case errors.Is(err, ErrNotCached) && s.Pointer != "":
		return &PlacedError{Pointer: s.at("/course_id"), Err: err}
	case errors.As(err, &file) && s.Pointer != "":
		return &PlacedError{Pointer: s.at("/file"), Err: err}
	case errors.As(err, &made):
		return s.placedFault(made)
	case errors.As(err, &asked) && asked.Code == CodeUnsupportedMediaType:
		placed := *asked
		placed.Pointer = s.at("/file/media_type")
		return &placed
	case errors.As(err, &asked) && asked.Code == CodeTooLarge:
		placed := *asked
		placed.Pointer = s.at("/file")
		return &placed
	}
	return err
}

// placedFault places a course's fault at the option that asks for what can't be.
func (s CourseSource) placedFault(err *course.Error) error {
	option, entry := "", ""
	switch err.Code {
	case course.CodeLapsDoNotClose:
		option = "laps"
	case course.CodeCutOutside, course.CodeTooShort:
		if s.Options.StartM == 0 && s.Options.EndM == 0 { // not cut
			break
		}
		option = "start_m"
		if err.Actual == s.Options.EndM {
			option = "end_m"
		}
	case course.CodeMarkOutside:
		option = "marks"
		if i := markAt(s.Options.Marks, err.Actual); i >= 0 {
			entry = fmt.Sprintf("/%d", i)
		}
	case course.CodeAxisNotIncreasing:
		return &PlacedError{Pointer: s.at("/profile/distance_m"), Err: err}
	}
	switch {
	case s.Pointer == "" && option == "marks":
		return &PlacedError{Parameter: "mark", Err: err}
	case s.Pointer == "":
		return &PlacedError{Parameter: option, Err: err}
	case option == "":
		return &PlacedError{Pointer: s.Pointer, Err: err}
	}
	return &PlacedError{Pointer: s.Pointer + "/options/" + option + entry, Err: err}
}

// markAt returns the index of the mark that is given by a distance, −1 for none.
func markAt(marks []track.Mark, atM float64) int {
	return slices.IndexFunc(marks, func(m track.Mark) bool { return m.Pos == geodesy.Vec{} && m.AtM == atM })
}
