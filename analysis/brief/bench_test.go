package brief

import (
	"testing"

	"parcours.example/analysis/itinerary"
)

// BenchmarkItinerary writes the itinerary of 12 laps with 40 marks, whole, in a chat's limit
// and as CSV.
func BenchmarkItinerary(b *testing.B) {
	in := withItinerary(manyMarks(), elapsed, itinerary.Neutral{})
	b.Run("whole", func(b *testing.B) {
		for b.Loop() {
			Write(in)
		}
	})
	short := in
	short.MaxChars = 4096
	b.Run("4096", func(b *testing.B) {
		for b.Loop() {
			Write(short)
		}
	})
	written := Write(in).Itinerary
	b.Run("csv", func(b *testing.B) {
		for b.Loop() {
			written.CSV()
		}
	})
}
