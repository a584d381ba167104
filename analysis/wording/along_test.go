package wording_test

import (
	"math"
	"strconv"
	"testing"

	"parcours.example/analysis/wording"
	"pgregory.net/rapid"
)

func TestDistancesAndClocksOfTables(t *testing.T) {
	metric, imperial := wording.Units{}, wording.Units{Imperial: true}
	for _, c := range []struct{ got, want string }{
		{metric.Covered(4304.9), "4.30"},
		{imperial.Covered(1609.344), "1.00"},
		{metric.Level(-4.6), "-5"},
		{imperial.Level(100), "328"},
		{metric.Pace(10), "36.0"},
		{imperial.Pace(10), "22.4"},
		{metric.ToGo(10_004, 5004), "5.00"},
		{metric.ToGo(10_006, 5004.9), "5.01"}, // 5.00 by itself
		{wording.LongClock(61.4), "0:01:01"},
		{wording.LongClock(90_000), "25:00:00"},
		{wording.TimeOfDay(3599.6), "01:00:00"},
		{wording.TimeOfDay(86_399.4), "23:59:59"},
		{wording.TimeOfDay(86_399.6), "00:00:00+1d"},
		{wording.TimeOfDay(176_525), "01:02:05+2d"},
	} {
		if c.got != c.want {
			t.Errorf("%q, not %q", c.got, c.want)
		}
	}
}

// TestCoveredAndToGoAddUp adds what is written.
func TestCoveredAndToGoAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := wording.Units{Imperial: rapid.Bool().Draw(t, "imperial")}
		length := rapid.Float64Range(1, 5e5).Draw(t, "length")
		at := rapid.Float64Range(0, 1).Draw(t, "share") * length
		read := func(s string) float64 {
			x, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			return math.Round(x * 100)
		}
		covered, toGo, whole := u.Covered(at), u.ToGo(length, at), u.Covered(length)
		if read(covered)+read(toGo) != read(whole) {
			t.Errorf("%s + %s is not %s", covered, toGo, whole)
		}
		if off := math.Abs(read(toGo) - (length-at)/u.LongM()*100); off > 1+1e-3 {
			t.Errorf("%s is %.2f hundredths off", toGo, off)
		}
	})
}
