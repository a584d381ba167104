package ride

import (
	"context"
	"errors"
	"math"
	"testing"
)

// FuzzSimulate rides anything over small courses: whatever the input, there is an answer
// that is finite and lawful, or an *Error.
func FuzzSimulate(f *testing.F) {
	f.Add([]byte{128, 140, 90, 255, 0, 7}, 200.0, 75.0, 0.0, 5.0, false)
	f.Add([]byte{0, 0, 0}, 0.0, 60.0, 12.0, -8.0, true)
	f.Add([]byte{255, 255}, 1e-9, 1.0, 0.0, 0.0, false)
	f.Add([]byte{1, 255, 1, 255}, 99999.0, 1000.0, 100.0, 100.0, false)
	f.Fuzz(func(t *testing.T, shape []byte, power, mass, start, wind float64, indoor bool) {
		if len(shape) == 0 || len(shape) > 60 {
			return
		}
		a := anyRide{shape: shape, power: power, mass: mass, start: start, windM: wind, indoor: indoor}
		err := a.checkLaws(t)
		var known *Error
		if err != nil && !errors.As(err, &known) {
			t.Fatalf("an error that nobody knows: %v", err)
		}
	})
}

func finite(t *testing.T, ride *Ride) {
	for _, x := range []float64{ride.TimeS, ride.WorkJ, ride.MeanPowerW, ride.FourthPowerMeanW, ride.MaxSpeedMps, ride.MeanYawDeg, ride.Balance.MinJ} {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			t.Fatalf("not finite: %+v", ride)
		}
	}
	if share := ride.Energy.ResidualShare(); !(share <= 1e-3) {
		t.Fatalf("%.3g of the energy is missing", share)
	}
}

// finiteDoubts examines a ride in every way.
func finiteDoubts(t *testing.T, road *Road, ride *Ride) {
	s := ride.Sensitivities(road).Whole
	for _, x := range []float64{s.PerKg, s.PerW, s.PerPowerPct, s.PerCdAM2, s.PerCrr, s.PerC, s.PerWindMps, s.PerEfficiency} {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			t.Fatalf("not finite: %+v", s)
		}
	}
	b, err := ride.Band(context.Background(), road, s, doubts(), 90)
	if err != nil {
		t.Fatal(err)
	}
	if b.Halt == nil && !(b.LowS > -math.MaxFloat64 && b.HighS >= b.LowS && b.HighS < math.MaxFloat64) {
		t.Fatalf("no band: %+v", b)
	}
}
