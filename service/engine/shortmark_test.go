package engine

import (
	"errors"
	"strings"
	"testing"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

func TestParseMark(t *testing.T) {
	for text, want := range map[string]track.Mark{
		"name=Mill,kind=sprint,at_m=4200":       {Name: "Mill", Kind: track.Sprint, AtM: 4200},
		" AT_M = 0 ,name=Old mill = tower":      {Name: "Old mill = tower", Kind: track.Other},
		"name=Mill,lat_deg=47.1,lon_deg=3.2":    {Name: "Mill", Kind: track.Other, Pos: geodesy.FromDegrees(47.1, 3.2)},
		"name=M,lat_deg=47,lon_deg=3,kind=gate": {Name: "M", Kind: track.Gate, Pos: geodesy.FromDegrees(47, 3)},
		"name=M,lat_deg=47,lon_deg=3,heading_deg=360": {
			Name: "M", Kind: track.Other, Pos: geodesy.FromDegrees(47, 3), Directed: true,
		},
	} {
		got, err := ParseMark(text)
		if err != nil {
			t.Fatalf("%s: %v", text, err)
		}
		if off := geodesy.Chord(got.Pos, want.Pos); off > 0.02 {
			t.Errorf("%s: %v m off", text, off)
		}
		got.Pos = want.Pos
		if got != want {
			t.Errorf("%s: %+v, want %+v", text, got, want)
		}
	}
}

func TestParseMarkFaults(t *testing.T) {
	for text, says := range map[string]string{
		"":                                 "key=value",
		"name=Mill":                        "needs at_m",
		"at_m=4":                           "needs a name",
		"name=,at_m=4":                     "needs a name",
		"name=Mill,at_m=4,at_m=5":          "twice",
		"name=Mill,at_m=-1":                "from 0 to 5e+06 m",
		"name=Mill,at_m=NaN":               "from 0 to 5e+06 m",
		"name=Mill,at_km=4":                "not known",
		"name=Mill,kind=hill,at_m=4":       "sprint, summit, gate, feed or other",
		"name=Mill,lat_deg=47":             "lon_deg",
		"name=Mill,lon_deg=3":              "lat_deg",
		"name=Mill,lat_deg=91,lon_deg":     "from -90 to 90 °",
		"name=Mill,at_m=4,lat_deg=47":      "not both",
		"name=M,at_m=4,heading_deg=90":     "position only",
		"name=" + strings.Repeat("n", 201): "longer than 200",
	} {
		_, err := ParseMark(text)
		var asked *Error
		if !errors.As(err, &asked) || asked.Code != CodeInvalid || asked.Parameter != "mark" || !strings.Contains(asked.Detail, says) {
			t.Errorf("%q: %+v, want it to say %q", text, err, says)
		}
	}
}
