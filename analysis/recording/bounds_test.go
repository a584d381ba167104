package recording_test

import (
	"context"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/recording"
	"parcours.example/analysis/track"
	"parcours.example/internal/ridegen"
)

// TestMendingIsBounded mends recordings made to need as much mending as can be; one that
// took the square of their length would take minutes.
func TestMendingIsBounded(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	const samples = 60_000
	rng := rand.New(rand.NewPCG(1, 2))
	for name, change := range map[string]func(i int, s *track.Sample){
		"clock set back again and again": func(i int, s *track.Sample) { s.ClockS -= float64(i / 5 * 3) },
		"clock set ahead":                func(i int, s *track.Sample) { s.ClockS += float64(i / 20 * 40) },
		"in no order":                    func(_ int, s *track.Sample) { s.ClockS = ridegen.StartUnixS + float64(rng.IntN(samples)) },
		"first position late, then strays": func(i int, s *track.Sample) {
			if i < samples/2 {
				s.Pos = geodesy.Vec{}
			} else if i > samples/2 {
				s.Pos = geodesy.FromDegrees(float64(i%2)*40, 100)
			}
		},
		"zeros of power here and there": func(i int, s *track.Sample) { s.PowerW = float64(i % 2 * 100) },
	} {
		t.Run(name, func(t *testing.T) {
			var all []track.Sample
			for i := range samples {
				at := float64(i) * 8
				s := track.Sample{
					ClockS: ridegen.StartUnixS + float64(i), Pos: geodesy.FromDegrees(45+at/111e3, 7), ElevationM: 200, DistanceM: at,
					SpeedMPS: 8, PowerW: 200 + float64(i%7), CadenceRPM: 90, Begins: i == 0,
				}
				change(i, &s)
				all = append(all, s)
			}
			data, err := ridegen.FIT(all)
			if err != nil {
				t.Fatal(err)
			}
			got, err := recording.ReadFIT(context.Background(), data, track.Limits{})
			if err != nil {
				t.Fatal(err)
			}
			checkOrder(t, got)
		})
	}
}
