package race

import (
	"fmt"
	"math"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/ride"
)

// lined is a field of riders of a kind on a level road, standing in a line with gaps in
// metres between the wheels' usual places.
func lined(t *testing.T, run int, gaps ...float64) *field {
	t.Helper()
	n := math.NaN()
	road, err := ride.NewRoad(&course.Course{S: []float64{0, 20_000}, Z: []float64{0, 0}}, ride.Conditions{
		TemperatureC: n, PressureHPa: n, HumidityPct: n, AirDensityKgM3: n, WindMps: n, WindFromDeg: n, RoughnessM: n,
		HeadwindMps: n, Indoor: true, Shelter: n, LoadKg: n, StartSpeedMps: 10, CoastAboveMps: n, LateralMps2: n, BrakingMps2: n,
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	var entrants []Entrant
	for i := range len(gaps) + 1 {
		entrants = append(entrants, Entrant{
			Rider: ride.Rider{
				Name: fmt.Sprintf("Rider %d", i+1), MassKg: 72, HeightM: n, CdAM2: n, CriticalPowerW: 280, WPrimeJ: 20_000,
				MaxPowerW: n, RecoveryRate: n, GrossEfficiency: n,
			},
			Setup: ride.Setup{
				MassKg: n, CdAM2: n, CdAChangeM2: n, Crr: n, DrivetrainEfficiency: n, WheelInertiaKgM2: n, WheelRadiusM: n,
				WheelDragAreaM2: n, BearingN: n, BearingNsPerM: n,
			},
			Steps: []ride.Step{{EndM: math.Inf(1), PowerW: 250}},
		})
	}
	rules := Defaults()
	rules.Abreast, rules.FormPct, rules.VaryOrders = 1, 0, false
	r, err := New(road, entrants, nil, rules)
	if err != nil {
		t.Fatal(err)
	}
	x := r.start(run, &Run{})
	x.now = 60
	at := 5000.0
	for k, i := range x.order {
		if k > 0 {
			at -= wheelM + gaps[k-1]
		}
		rider := &x.riders[i]
		rider.s, rider.v, rider.cruise = at, 10, 10
		rider.cell = x.ground.find(0, at)
	}
	return x
}

// A gap takes the lee of all ahead of it away from all behind it.
func TestGapsCutTheLeeOfThoseAhead(t *testing.T) {
	shelterOfThird := func(gap float64) float64 {
		x := lined(t, 0, gap, 0)
		x.look()
		return x.riders[x.order[2]].shelter
	}
	x := lined(t, 0, 0, 0)
	second, third := x.lee.Factor(1, 3, 0, 0), x.lee.Factor(2, 3, 0, 0)
	if got := shelterOfThird(0); math.Abs(got-third) > 1e-9 {
		t.Errorf("close behind two: %.3f, want %.3f", got, third)
	}
	if got := shelterOfThird(3); math.Abs(got-second) > 1e-9 {
		t.Errorf("close behind one who is alone: %.3f, want %.3f", got, second)
	}
	if half := shelterOfThird(2); !(half > third && half < second) {
		t.Errorf("behind half a gap: %.3f, not between %.3f and %.3f", half, third, second)
	}
}

// A group that is near is chased, one that is far isn't.
func TestWhoIsNearIsChased(t *testing.T) {
	power := func(gap float64) float64 {
		x := lined(t, 0, 0, gap)
		x.look()
		return x.riders[x.order[2]].power
	}
	if far := power(300); math.Abs(far-250) > 1e-9 {
		t.Errorf("300 m behind: %.0f W, want the own 250 W", far)
	}
	near, nearer := power(85), power(60)
	if !(near > 260 && nearer > near+50) {
		t.Errorf("85 m behind %.0f W, 60 m behind %.0f W", near, nearer)
	}
}

// About three in ten of those who see an attack go with it, and ride with the attacker.
func TestAttacksAreAnswered(t *testing.T) {
	answered, asked := 0, 0
	for run := range 200 {
		x := lined(t, run, 0, 0, 0, 0, 0, 100)
		x.attack(&x.riders[x.order[0]], &Order{Kind: Attack, AtM: 5000, ForS: 60})
		for _, i := range x.order[1:6] {
			asked++
			if x.riders[i].responding > 0 {
				answered++
			}
		}
		if far := x.order[6]; x.riders[far].responding > 0 {
			t.Fatal("who doesn't see the attack answers it")
		}
	}
	if share := float64(answered) / float64(asked); math.Abs(share-answering) > 4*math.Sqrt(answering*(1-answering)/float64(asked)) {
		t.Errorf("%.3f of those who saw it answered, want %.2f", share, answering)
	}
}
