package recording_test

import (
	"context"
	"errors"
	"math"
	"testing"

	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/recording"
	"parcours.example/analysis/track"
	"parcours.example/internal/ridegen"
)

// fuzz holds whatever comes out to what readers of a recording count on.
func fuzz(f *testing.F, r reader) {
	samples := sample(f)
	for _, s := range [][]track.Sample{samples, samples[:3], later(twice(samples, 5, 4), 20, -9), power(samples, 9, 30, 0)} {
		data, err := r.write(s)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
		f.Add(data[:2*len(data)/3])
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := r.read(context.Background(), data, track.Limits{Points: 2000})
		var unreadable *track.Error
		var none *recording.Error
		switch {
		case err == nil:
			checkOrder(t, got)
		case errors.As(err, &unreadable) && len(unreadable.Detail) >= 20:
		case errors.As(err, &none) && len(none.Detail) >= 20:
		default:
			t.Fatalf("%T %v", err, err)
		}
	})
}

// sample is the first minute of a ride.
func sample(f *testing.F) []track.Sample {
	var samples []track.Sample
	line, _ := coursegen.Random(coursegen.Circuit, 2)
	for i := range 60 {
		samples = append(samples, track.Sample{
			ClockS: ridegen.StartUnixS + float64(i), Pos: line.Pos[8*i], ElevationM: line.Z[8*i], DistanceM: line.S[8*i],
			SpeedMPS: 8, PowerW: 200 + float64(i), CadenceRPM: math.NaN(), Begins: i == 0,
		})
	}
	return samples
}

func FuzzReadFIT(f *testing.F) { fuzz(f, readers()["FIT"]) }
func FuzzReadTCX(f *testing.F) { fuzz(f, readers()["TCX"]) }
func FuzzReadGPX(f *testing.F) { fuzz(f, readers()["GPX"]) }
