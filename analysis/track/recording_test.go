package track_test

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"parcours.example/analysis/track"
)

// TestReadFITIncomplete reads recordings in which positions, distances or both are
// missing here and there.
func TestReadFITIncomplete(t *testing.T) {
	const missing = 200 // degrees, metres
	type sample struct{ lat, distance float64 }
	for name, c := range map[string]struct {
		samples  []sample
		points   int
		distance []float64
		warnings []string
		at       []int  // the warnings' points
		says     string // the first warning
	}{
		"all": {
			[]sample{{45, 0}, {45.001, 111}, {45.002, 222}}, 3, nil, nil, nil, "",
		},
		"a tunnel": {
			[]sample{{45, missing}, {missing, missing}, {missing, missing}, {45.01, missing}, {45.02, missing}},
			3, nil,
			[]string{"position-missing"},
			[]int{1},
			"2 points without a position were left out; the line goes straight on over 1111 m here.",
		},
		"late and early": {
			[]sample{{missing, missing}, {45, missing}, {45.01, missing}, {45.02, missing}, {missing, missing}, {missing, missing}},
			3, nil,
			[]string{"position-missing", "position-missing"},
			[]int{0, 2},
			"1 point before the first position was left out",
		},
		"by distance": {
			[]sample{{missing, 0}, {missing, 100}, {missing, 100}, {missing, 250}}, 4, []float64{0, 100, 100, 250}, nil, nil, "",
		},
		"by distance, one position": {
			[]sample{{45, 0}, {missing, 100}, {missing, 150}},
			3,
			[]float64{0, 100, 150},
			[]string{"positions-ignored"},
			[]int{-1},
			"Only 1 of 3 points have a position",
		},
		"half by position": {
			[]sample{{45, 0}, {missing, 100}, {45.01, 150}, {missing, 180}}, 2, nil, []string{"position-missing", "position-missing"}, []int{1, 1}, "",
		},
		"distances here and there": {
			[]sample{{missing, missing}, {missing, 10}, {missing, missing}, {missing, 30}},
			2,
			[]float64{10, 30},
			[]string{"distance-missing"},
			[]int{-1},
			"2 points without a distance were left out.",
		},
		"counted anew": {
			[]sample{{missing, 0}, {missing, 600}, {missing, 3}, {missing, 50}, {missing, 700}, {missing, 2}},
			6,
			[]float64{0, 600, 603, 650, 1300, 1302},
			[]string{"distance-restarted", "distance-restarted"},
			[]int{2, 5},
			"from 600 m to 3 m here; it was counted on from there, which makes it 603 m",
		},
		"a step back": {
			[]sample{{missing, 0}, {missing, 600}, {missing, 590}, {missing, 595}, {missing, 610}},
			3,
			[]float64{0, 600, 610},
			[]string{"distance-falls-back", "distance-falls-back"},
			[]int{2, 2},
			"A point at 590 m after one at 600 m",
		},
	} {
		t.Run(name, func(t *testing.T) {
			w := new(fitWriter)
			w.define(0, fitRecord, recordFields, 0)
			for _, s := range c.samples {
				lat, lon, distance := semicircles(s.lat), semicircles(7), centimetres(s.distance)
				if s.lat == missing {
					lat, lon = noSint32, noSint32
				}
				if s.distance == missing {
					distance = noUint32
				}
				w.message(0, lat, lon, altitude(100), distance)
			}
			got, err := track.ReadFIT(context.Background(), w.file(), track.Options{})
			if err != nil {
				t.Fatal(err)
			}
			checkTrack(t, got, track.DefaultLimits())
			if len(got.Points) != c.points || !slices.Equal(got.DistanceM, c.distance) {
				t.Errorf("%d points, distances %v; want %d, %v", len(got.Points), got.DistanceM, c.points, c.distance)
			}
			wantWarnings(t, got, c.warnings...)
			for i, w := range got.Warnings {
				if w.Point != c.at[i] || i == 0 && !strings.Contains(w.Detail, c.says) {
					t.Errorf("warning %+v, want point %d, %q", w, c.at[i], c.says)
				}
			}
		})
	}
}

// TestReadFITMarksByDistance tells where course points stand on a line that has no
// positions, and on one that has.
func TestReadFITMarksByDistance(t *testing.T) {
	for _, positions := range []bool{false, true} {
		w := new(fitWriter)
		w.define(0, fitRecord, recordFields, 0)
		for i := range 3 {
			lat, lon := noSint32, noSint32
			if positions {
				lat, lon = semicircles(45+0.001*float64(i)), semicircles(7)
			}
			w.message(0, lat, lon, noUint32, centimetres(111*float64(i)))
		}
		w.define(1, fitPlace, placeFields, 0)
		w.message(1, noSint32, noSint32, centimetres(60), int64(15), "by distance")
		w.message(1, semicircles(45.001), semicircles(7), centimetres(111), int64(1), "by both")
		w.message(1, semicircles(45.002), semicircles(7), noUint32, int64(1), "by position")
		w.message(1, noSint32, noSint32, noUint32, int64(1), "nowhere")
		got, err := track.ReadFIT(context.Background(), w.file(), track.Options{})
		if err != nil {
			t.Fatal(err)
		}
		want, warnings := []string{"sprint by distance", "summit by both"}, []string{"mark-without-place", "mark-without-place"}
		if positions {
			want, warnings = append(want, "summit by position"), warnings[:1]
		}
		wantMarks(t, got, want...)
		wantWarnings(t, got, warnings...)
		if m := got.Marks[0]; m.AtM != 60 || m.Pos.Norm() != 0 {
			t.Errorf("%+v", m)
		}
		if m := got.Marks[1]; positions != (m.Pos.Norm() > 0) || !positions && m.AtM != 111 || positions && m.AtM != 0 {
			t.Errorf("positions %v: %+v", positions, m)
		}
	}
}

// TestReadFITKeepsPlacesOfWarnings warns about the point meant, also after points
// before it were left out.
func TestReadFITKeepsPlacesOfWarnings(t *testing.T) {
	w := fitLine(2)
	w.message(0, noSint32, noSint32, noUint32, noUint32)
	w.message(0, semicircles(45.01), semicircles(7), altitude(9500), noUint32)
	got, err := track.ReadFIT(context.Background(), w.file(), track.Options{})
	if err != nil || len(got.Points) != 3 || !math.IsNaN(got.Points[2].Elevation) {
		t.Fatal(got, err)
	}
	wantWarnings(t, got, "elevation-out-of-range", "position-missing")
	if p := got.Warnings[0].Point; p != 2 {
		t.Errorf("warning about point %d", p)
	}
}
