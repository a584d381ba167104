package analysis_test

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/track"
)

// TestCircuitsOfPublishedLength holds the lengths of two permanent circuits, drawn from
// imagery, against their published lengths (testdata/circuits/README.md): within 0.5 %,
// ridden once, ridden four times and as a lap that is declared to be ridden so.
func TestCircuitsOfPublishedLength(t *testing.T) {
	file, err := os.ReadFile("../testdata/circuits/circuits.geojson")
	if err != nil {
		t.Fatal(err)
	}
	var published struct {
		Features []struct {
			Properties struct {
				Name   string
				Length float64
			}
		}
	}
	if err := json.Unmarshal(file, &published); err != nil {
		t.Fatal(err)
	}
	for i, f := range published.Features {
		t.Run(f.Properties.Name, func(t *testing.T) {
			lap, err := track.ReadGeoJSON(context.Background(), file, track.Options{Track: i + 1})
			if err != nil {
				t.Fatal(err)
			}
			want := f.Properties.Length
			once := conditioned(t, lap.Points, nil)
			if once.Shape != course.Circuit || off(once.LengthM(), want) > 0.005 {
				t.Errorf("ridden once: %s of %.0f m, want a circuit of %.0f m", once.Shape, once.LengthM(), want)
			}
			declared := course.Defaults()
			declared.Laps = 4
			asLap, err := course.FromTrack(context.Background(), lap, declared)
			if err != nil {
				t.Fatal(err)
			}
			asRidden := conditioned(t, slices.Repeat(lap.Points, 4), nil)
			for _, c := range []*course.Course{asLap, asRidden} {
				if c.Laps.Count != 4 || off(c.Laps.LengthM, want) > 0.005 {
					t.Errorf("%s: %d laps of %.0f m, want 4 of %.0f m", c.Laps.Source, c.Laps.Count, c.Laps.LengthM, want)
				}
			}
			t.Logf("%.0f m, published %.0f m", once.LengthM(), want)
		})
	}
}

// off is the relative difference of two lengths.
func off(got, want float64) float64 { return math.Abs(got/want - 1) }
