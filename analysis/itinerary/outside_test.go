package itinerary_test

import (
	"testing"

	"parcours.example/analysis/itinerary"
	"parcours.example/analysis/wording"
)

// A road book's columns are the distance covered and to go, the altitude, the place and
// the passage time at three average speeds, typically 2 km/h apart (common practice). At
// km 100 that is 2:37:54, 2:30:00 and 2:22:51 at 38, 40 and 42 km/h (computed).
func TestPassageTimesOfARoadBook(t *testing.T) {
	rows := []itinerary.Row{{}, {AtM: 100_000}}
	for kmh, want := range map[float64]string{38: "2:37:54", 40: "2:30:00", 42: "2:22:51"} {
		if got := wording.Clock((itinerary.Neutral{}).AtSpeed(rows, kmh/3.6)[1]); got != want {
			t.Errorf("km 100 at %v km/h: %s, want %s", kmh, got, want)
		}
	}
}

// The caravan and a neutral start are offsets (common practice): a start of the clocks
// that is earlier or later moves every time of day alike, and a neutral stretch before
// the course every clock.
func TestOffsetsMoveEveryClock(t *testing.T) {
	rows := []itinerary.Row{{}, {AtM: 40_000}, {AtM: 100_000}}
	plain := (itinerary.Neutral{}).AtSpeed(rows, 40/3.6)
	neutral := itinerary.Neutral{TimeS: 900}.AtSpeed(rows, 40/3.6)
	for i := range rows {
		if neutral[i]-plain[i] != 900 {
			t.Errorf("row %d: %v s later, not 900 s", i, neutral[i]-plain[i])
		}
	}
	const race, caravan = 13 * 3600, 11*3600 + 30*60
	for at, want := range map[float64]string{race: "15:30:00", caravan: "14:00:00"} {
		if got := wording.TimeOfDay(at + plain[2]); got != want {
			t.Errorf("km 100 at 40 km/h from %s on: %s, want %s", wording.TimeOfDay(at), got, want)
		}
	}
}
