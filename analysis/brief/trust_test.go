package brief

import (
	"math"
	"slices"
	"testing"

	"parcours.example/analysis/course"
)

// TestTrust holds what each kind of fault is told as.
func TestTrust(t *testing.T) {
	everywhere := math.NaN()
	for _, c := range []struct {
		desc     string
		warnings []course.Warning
		want     []string
	}{
		{"none", nil, nil},
		{"unknown", []course.Warning{{Code: "something-else", AtM: 3}}, nil},
		{"noise", []course.Warning{{Code: "elevation-noisy", AtM: everywhere}}, []string{"Elevations scatter by about 0.8 m: gradients over short stretches are rough."}},
		{"steps", []course.Warning{{Code: "elevation-quantised", AtM: everywhere}}, []string{"Elevations come in coarse steps: gradients over short stretches are rough."}},
		{
			"noise and steps",
			[]course.Warning{{Code: "elevation-noisy", AtM: everywhere}, {Code: "elevation-quantised", AtM: everywhere}},
			[]string{"Elevations scatter by about 0.8 m: gradients over short stretches are rough."},
		},
		{"spikes", []course.Warning{{Code: "spikes-repaired", AtM: 4120}}, []string{"Jumps in the line or its elevations were mended at 4.1 km."}},
		{"a hole", []course.Warning{{Code: "elevation-missing", AtM: 0}}, []string{"Elevations are missing at the start; what lies between is bridged."}},
		{
			"gaps",
			[]course.Warning{{Code: "gap", AtM: 900}, {Code: "gap", AtM: 2000}, {Code: "gap", AtM: 3000}},
			[]string{"Points are missing in three places, first at 900 m; the line is straight there."},
		},
		{"sparse", []course.Warning{{Code: "sparse-points", AtM: everywhere}}, []string{"Points stand about 130 m apart: bends and short steep pitches may be missing."}},
		{"closed lap", []course.Warning{{Code: "lap-closed", AtM: 5000}}, []string{"The ends of the lap don't meet in the file and were joined."}},
		{
			"lap's elevations",
			[]course.Warning{{Code: "lap-elevation-spread", AtM: everywhere}},
			[]string{"The ends of the lap differ in elevation; the difference is spread over the lap."},
		},
		{"a place taken", []course.Warning{{Code: "mark-off-course", AtM: 70}}, nil},
		{
			"a place left out",
			[]course.Warning{{Code: "mark-off-course", AtM: everywhere}},
			[]string{"One place named in the file lies far off the course and is left out."},
		},
		{
			"places left out",
			[]course.Warning{{Code: "mark-off-course", AtM: everywhere}, {Code: "mark-off-course", AtM: everywhere}},
			[]string{"Two places named in the file lie far off the course and are left out."},
		},
	} {
		in := rolling()
		in.Course.Quality.Warnings = c.warnings
		in.Course.Quality.ElevationNoiseM, in.Course.Quality.MedianStepM = 0.81, 128
		if got := section(Write(in), "How far to trust the file"); !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.desc, got, c.want)
		}
	}
}

// section returns the lines under a heading, nil without it.
func section(b *Brief, heading string) []string {
	for _, s := range b.Sections {
		if s.Heading == heading {
			return s.Lines
		}
	}
	return nil
}
