package ride

import (
	"context"
	"errors"
	"math"
	"testing"

	"parcours.example/analysis/course"
)

// FuzzSimulate rides anything over small courses: whatever the input, there is an answer
// that is finite or an *Error.
func FuzzSimulate(f *testing.F) {
	f.Add([]byte{128, 140, 90, 255, 0, 7}, 200.0, 75.0, 0.0, 5.0, false)
	f.Add([]byte{0, 0, 0}, 0.0, 60.0, 12.0, -8.0, true)
	f.Add([]byte{255, 255}, 1e-9, 1.0, 0.0, 0.0, false)
	f.Add([]byte{1, 255, 1, 255}, 99999.0, 1000.0, 100.0, 100.0, false)
	f.Fuzz(func(t *testing.T, shape []byte, power, mass, start, wind float64, indoor bool) {
		if len(shape) == 0 || len(shape) > 60 {
			return
		}
		c := &course.Course{S: []float64{0}, Z: []float64{100}}
		for i, b := range shape {
			c.S = append(c.S, c.S[i]+1+float64(b%7)*20)
			c.Z = append(c.Z, c.Z[i]+(float64(b)-128)/4)
		}
		c = turned(c, func(s float64) float64 { return 90 * float64(shape[c.PieceAt(s)]%5) })
		cond := conditions()
		cond.StartSpeedMps, cond.Indoor = start, indoor
		cond.WindMps, cond.WindFromDeg = math.Abs(wind), 10
		road, err := NewRoad(c, cond, nil)
		var ride *Ride
		if err == nil {
			r := rider(mass)
			r.CriticalPowerW, r.WPrimeJ = 250, 15_000
			ride, err = Simulate(context.Background(), road, r, setup(), watts(power), nil)
		}
		var known *Error
		switch {
		case errors.As(err, &known):
		case err != nil:
			t.Fatalf("an error that nobody knows: %v", err)
		default:
			finite(t, ride)
			finiteDoubts(t, road, ride)
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
