package ride

import (
	"errors"
	"math"
	"reflect"
	"testing"
)

// A ride up to a halt is the ride that it would have been, as far as it went.
func TestAttemptEndsAtTheHalt(t *testing.T) {
	road := mustRoad(t, profile([]float64{0, 500, 600}, []float64{0, 0, 40}), conditions())
	able := rider(75)
	able.CriticalPowerW, able.WPrimeJ = 40, 9000
	_, err := Simulate(t.Context(), road, able, setup(), watts(50), nil)
	var halt *Error
	if !errors.As(err, &halt) {
		t.Fatalf("%v, want a halt", err)
	}
	got, err := Attempt(t.Context(), road, able, setup(), watts(50))
	if err != nil {
		t.Fatal(err)
	}
	last := len(got.DistanceM) - 1
	near(t, "end in m", got.DistanceM[last], halt.AtM, leastSampleM)
	if v := got.SpeedMps[last]; v > 2*slowestMps {
		t.Errorf("at the halt the speed is %v m/s", v)
	}
	if len(got.PowerW) != last+1 || len(got.WBalanceJ) != last+1 || math.IsNaN(got.WBalanceJ[last]) {
		t.Errorf("%d samples, %d powers, %d balances", last+1, len(got.PowerW), len(got.WBalanceJ))
	}
	flat := mustRide(t, mustRoad(t, slope(500, 0), conditions()), able, setup(), watts(50)).Trace
	n := len(flat.TimeS)
	if !reflect.DeepEqual(got.TimeS[:n], flat.TimeS) || !reflect.DeepEqual(got.SpeedMps[:n], flat.SpeedMps) {
		t.Errorf("before the wall the ride is another than on the flat")
	}
}

func TestAttemptOfAWholeRide(t *testing.T) {
	road := rolling(t)
	want := mustRide(t, road, rider(75), setup(), watts(250)).Trace
	got, err := Attempt(t.Context(), road, rider(75), setup(), watts(250))
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%v: %d samples, want %d", err, len(got.TimeS), len(want.TimeS))
	}
}

func TestAttemptRefuses(t *testing.T) {
	road := mustRoad(t, slope(1000, 0.05), conditions())
	if got, err := Attempt(t.Context(), road, rider(75), setup(), watts(0)); err != nil || got.TimeS != nil {
		t.Errorf("without power: %v, %v", got, err)
	}
	if _, err := Attempt(t.Context(), road, rider(-75), setup(), watts(200)); codeOf(err) != CodeInvalid {
		t.Errorf("%v, want %s", err, CodeInvalid)
	}
	if _, err := Attempt(t.Context(), road, rider(75), setup(), Effort{Kind: ByTime, TimeS: 1}); codeOf(err) != CodeTimeOutOfReach {
		t.Errorf("%v, want %s", err, CodeTimeOutOfReach)
	}
}
