package engine

import (
	"math"
	"slices"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
	"parcours.example/internal/shortform"
)

// AskedMark is a mark as a request gives it: by its distance or by its position.
type AskedMark struct {
	Name string
	// Kind is track.Other where empty.
	Kind track.MarkKind
	// AtM is the distance along the course as answered in metres, LatDeg and LonDeg
	// the position in degrees, HeadingDeg the only direction that counts in true
	// degrees; NaN where not given.
	AtM, LatDeg, LonDeg, HeadingDeg float64
}

// markGridDeg is the grid in degrees, about 1 cm, that asked positions are brought
// to, so that the position which an answer repeats is the one that was used.
const markGridDeg = 1e-7

// Mark returns the mark that stands at a pointer in a request. It fails with an *Error
// with CodeInvalid and the field's pointer unless exactly one of the distance and the
// position is given.
func (m AskedMark) Mark(at string) (track.Mark, error) {
	fault := func(field, detail string) error {
		return &Error{Code: CodeInvalid, Pointer: at + "/" + field, Detail: detail}
	}
	byDistance, byPosition := !math.IsNaN(m.AtM), !math.IsNaN(m.LatDeg) || !math.IsNaN(m.LonDeg)
	directed := !math.IsNaN(m.HeadingDeg)
	switch {
	case m.Name == "":
		return track.Mark{}, fault("name", "a mark needs a name")
	case byDistance && byPosition:
		return track.Mark{}, fault("at_m", "give a mark's distance at_m or its position, not both")
	case !byDistance && !byPosition:
		return track.Mark{}, fault("at_m", "a mark needs at_m, or lat_deg and lon_deg")
	case byPosition && math.IsNaN(m.LatDeg):
		return track.Mark{}, fault("lat_deg", "a position needs lat_deg beside lon_deg")
	case byPosition && math.IsNaN(m.LonDeg):
		return track.Mark{}, fault("lon_deg", "a position needs lon_deg beside lat_deg")
	case byDistance && directed:
		return track.Mark{}, fault("heading_deg", "heading_deg goes with a position only; at_m is in one direction already")
	}
	made := track.Mark{Name: m.Name, Kind: m.Kind}
	if made.Kind == "" {
		made.Kind = track.Other
	}
	if byDistance {
		made.AtM = m.AtM
		return made, nil
	}
	made.Pos = geodesy.FromDegrees(onGrid(m.LatDeg), onGrid(m.LonDeg))
	if directed {
		made.Directed, made.HeadingDeg = true, math.Mod(m.HeadingDeg, 360)
	}
	return made, nil
}

func onGrid(deg float64) float64 { return math.Round(deg/markGridDeg) * markGridDeg }

var shortMark = shortform.Form{Thing: "mark", Example: "name=Mill,kind=sprint,at_m=4200"}

// markFields are the keys with a number, with the ranges that the contract states.
var markFields = []shortform.Field[AskedMark]{
	{Key: "at_m", Low: 0, High: course.LongestM, Unit: "m", Into: func(m *AskedMark) *float64 { return &m.AtM }},
	{Key: "lat_deg", Low: -90, High: 90, Unit: "°", Into: func(m *AskedMark) *float64 { return &m.LatDeg }},
	{Key: "lon_deg", Low: -180, High: 180, Unit: "°", Into: func(m *AskedMark) *float64 { return &m.LonDeg }},
	{Key: "heading_deg", Low: 0, High: 360, Unit: "°", Into: func(m *AskedMark) *float64 { return &m.HeadingDeg }},
}

// markKinds are the kinds of marks.
var markKinds = []track.MarkKind{track.Sprint, track.Summit, track.Gate, track.Feed, track.Other}

// ParseMark reads a mark's short form, "name=Mill,kind=sprint,at_m=4200":
// comma-separated key=value of name (required), kind, and either at_m or lat_deg and
// lon_deg, the latter with heading_deg if wanted, each at most once. A fault is an
// *Error with CodeInvalid and the parameter "mark".
func ParseMark(text string) (track.Mark, error) {
	unknown := math.NaN()
	m := AskedMark{AtM: unknown, LatDeg: unknown, LonDeg: unknown, HeadingDeg: unknown}
	err := shortMark.Each(text, func(key, value string) (err error) {
		switch key {
		case "name":
			m.Name, err = shortMark.Name(value)
			return err
		case "kind":
			m.Kind = track.MarkKind(value)
			if !slices.Contains(markKinds, m.Kind) {
				return shortMark.Fault("the kind is sprint, summit, gate, feed or other, not %q", shortform.Clip(value))
			}
			return nil
		}
		i := slices.IndexFunc(markFields, func(f shortform.Field[AskedMark]) bool { return f.Key == key })
		if i < 0 {
			return shortMark.Fault("%q is not known; there are name, kind, at_m, lat_deg, lon_deg and heading_deg", shortform.Clip(key))
		}
		return markFields[i].Set(shortMark, &m, value)
	})
	if err != nil {
		return track.Mark{}, faultOfShort(err, "mark")
	}
	made, err := m.Mark("#")
	if err != nil {
		return track.Mark{}, faultOfShort(shortMark.Fault("%s", err.Error()), "mark")
	}
	return made, nil
}
