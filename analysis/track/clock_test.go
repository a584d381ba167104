package track

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestParseClock(t *testing.T) {
	for text, want := range map[string]float64{
		"1970-01-01T00:00:00Z":            0,
		"2000-02-29T12:00:00Z":            951825600,
		" 2024-05-04T10:00:00.250Z\n":     1714816800.25,
		"2024-05-04 10:00:00":             1714816800,
		"2024-05-04T12:00:00+02:00":       1714816800,
		"2024-05-04T05:30:00,5-0430":      1714816800.5,
		"2024-05-04T10:00:00+02:0":        math.NaN(),
		"2024-13-04T10:00:00Z":            math.NaN(),
		"2024-05-04":                      math.NaN(),
		"2024-05-04T10:00:00 in the hall": math.NaN(),
		"2024-05-04T1x:00:00Z":            math.NaN(),
		"":                                math.NaN(),
	} {
		got, ok := parseClock(text)
		if ok == math.IsNaN(want) || ok && got != want {
			t.Errorf("%q: %v, %v, want %v", text, got, ok, want)
		}
	}
}

// TestParseClockAgainstTime compares with the standard library's calendar.
func TestParseClockAgainstTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.Int64Range(-2e9, 2e11).Draw(t, "seconds")
		zone := time.FixedZone("", 60*rapid.IntRange(-12*60, 14*60).Draw(t, "minutes"))
		text := time.Unix(want, 0).In(zone).Format(time.RFC3339)
		if got, ok := parseClock(text); !ok || got != float64(want) {
			t.Fatalf("%s: %v, %v, want %v", text, got, ok, want)
		}
	})
}
