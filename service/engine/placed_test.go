package engine

import (
	"errors"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/track"
)

func TestFaultsHaveTheirPlace(t *testing.T) {
	options := CourseOptions{Options: course.Options{
		StartM: 100, EndM: 900, Marks: []track.Mark{{Name: "Mill", AtM: 5}, {Name: "Weir", AtM: 7000}},
	}}
	for _, tc := range []struct {
		err                error
		pointer, parameter string
	}{
		{ErrNotCached, "/course_id", ""},
		{&track.Error{Code: track.CodeMalformed}, "/file", ""},
		{&course.Error{Code: course.CodeTooLong}, "", ""},
		{&course.Error{Code: course.CodeAxisNotIncreasing}, "/profile/distance_m", ""},
		{&course.Error{Code: course.CodeLapsDoNotClose}, "/options/laps", "laps"},
		{&course.Error{Code: course.CodeCutOutside, Actual: 100}, "/options/start_m", "start_m"},
		{&course.Error{Code: course.CodeCutOutside, Actual: 900}, "/options/end_m", "end_m"},
		{&course.Error{Code: course.CodeTooShort}, "/options/start_m", "start_m"},
		{&course.Error{Code: course.CodeMarkOutside, Actual: 7000}, "/options/marks/1", "mark"},
		{&course.Error{Code: course.CodeMarkOutside, Actual: 6999}, "/options/marks", "mark"},
	} {
		const at = "#/parts/1/course"
		var placed *PlacedError
		if err := (CourseSource{Pointer: at, Options: options}).placed(tc.err); !errors.As(err, &placed) || placed.Pointer != at+tc.pointer || !errors.Is(err, tc.err) {
			t.Errorf("%v: %+v, want it at %s", tc.err, err, at+tc.pointer)
		}
		err := (CourseSource{Options: options}).placed(tc.err)
		if errors.As(err, &placed) && placed.Pointer != "" || tc.parameter != "" && placed.Parameter != tc.parameter {
			t.Errorf("%v: %+v, want the parameter %q", tc.err, err, tc.parameter)
		}
	}
}
