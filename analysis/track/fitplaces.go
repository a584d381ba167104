package track

import (
	"fmt"
	"math"
	"strings"

	"github.com/muktihari/fit/profile/typedef"
)

// coursePoint takes a named place of the line.
func (f *fitReader) coursePoint(l *fitLayout, b []byte, pos int) error {
	if err := f.places.tooMany(f.limits.Marks, fmt.Sprintf("at byte %d", pos)); err != nil {
		return err
	}
	place, err := f.place(l.number(fitPlaceLat, b), l.number(fitPlaceLon, b), pos)
	if err != nil {
		return err
	}
	f.places.addTo(&f.current, coursePoint{
		name: clean(l.text(fitPlaceName, b), f.limits.NameRunes), kind: fitPlaceKind(l.number(fitPlaceType, b)),
		pos: place, atM: l.number(fitPlaceDistance, b) / 100,
	})
	return nil
}

// fitPlaceKind returns the words for the type of a course point, none for a place
// of no particular kind and for an unknown one.
func fitPlaceKind(number float64) string {
	kind := typedef.CoursePointInvalid
	if !math.IsNaN(number) && number <= float64(typedef.CoursePointInfo) {
		kind = typedef.CoursePoint(number)
	}
	name := kind.String()
	if kind == typedef.CoursePointGeneric || strings.Contains(name, "Invalid") {
		return ""
	}
	return strings.ReplaceAll(name, "_", " ")
}
