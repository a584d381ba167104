package launch

import (
	"testing"

	"parcours.example/analysis/ride"
)

// Mean over peak power of measured finish sprints: men 1120 W of 1370 W in about 14 s, under
// 23 years 1112 W of 1318 W (Menaspà et al. 2013, J. Sci. Cycling 2:35–39), women 679 W of
// 886 W in 21.8 s (Peiffer et al. 2018, Int. J. Sports Physiol. Perform. 13:1237; from the
// abstracts). Critical power and W′ of such riders are typical values, from memory.
func TestPowerOfMeasuredSprints(t *testing.T) {
	for _, c := range []struct {
		who                          string
		critical, wPrime, peak, want float64
		lastsS                       float64
	}{
		{"men", 410, 23_000, 1370, 0.82, 14},
		{"men under 23", 380, 23_000, 1318, 0.84, 14},
		{"women", 265, 15_500, 886, 0.77, 21.8},
	} {
		rider := ride.Rider{CriticalPowerW: c.critical, WPrimeJ: c.wPrime, MaxPowerW: c.peak}
		balance, work := c.wPrime, 0.0
		const dt = 0.001
		for range int(c.lastsS / dt) {
			power := rider.PowerLimitW(balance)
			work += power * dt
			balance -= (power - c.critical) * dt
		}
		near(t, c.who+": mean over peak power", work/c.lastsS/c.peak, c.want, 0.03)
	}
}

// The maximal power that is assumed makes sprints decay as measured ones, at a critical power
// of 0.3 of it.
func TestUsualMaxPowerDecaysAsMeasured(t *testing.T) {
	for _, c := range []struct{ lastsS, want float64 }{{14, 0.82}, {14, 0.84}, {21.8, 0.77}} {
		rider := ride.Rider{CriticalPowerW: 300, WPrimeJ: 16_800}
		rider.MaxPowerW = UsualMaxPower(rider)
		near(t, "maximal power", rider.MaxPowerW, 1000, 1e-9)
		balance := rider.WPrimeJ
		const dt = 0.001
		for range int(c.lastsS / dt) {
			balance -= (rider.PowerLimitW(balance) - rider.CriticalPowerW) * dt
		}
		mean := rider.CriticalPowerW + (rider.WPrimeJ-balance)/c.lastsS
		near(t, "mean over peak power", mean/rider.MaxPowerW, c.want, 0.02)
	}
}

// For 80 kg, 0.30 m², Crr 0.004 at 1.2 kg/m³ on the flat: 64.4 km/h at 1120 W; 55.4 km/h takes
// 725 W alone, 50.5 km/h 557 W (computed). The measured 487 W and 316 W behind others (Menaspà
// et al. 2015, Int. J. Sports Med. 36:1058) are then a shelter of 0.65 and 0.53: the wheels
// of a line are about as good.
func TestSpeedsOfMeasuredSprints(t *testing.T) {
	s := sprinter(t, 72, 300, 20_000, 1200)
	setup := unstated()
	setup.CdAM2, setup.WheelDragAreaM2, setup.DrivetrainEfficiency = 0.30, 0, 0.976
	bike, err := ride.NewBike(s.Rider, setup, ride.Conditions{Shelter: 1})
	if err != nil {
		t.Fatal(err)
	}
	flat := piecesOf(t, 0, stretch{300, 0})
	near(t, "km/h at 1120 W", steadySpeed(flat, &bike, 1120)*3.6, 64.4, 0.1)
	near(t, "W at 55.4 km/h", meanPowerW(flat, &bike, 1, 55.4/3.6), 725, 2)
	near(t, "W at 50.5 km/h", meanPowerW(flat, &bike, 1, 50.5/3.6), 557, 2)
	near(t, "W at 55.4 km/h behind others", meanPowerW(flat, &bike, 0.65, 55.4/3.6), 487, 5)
	near(t, "W at 50.5 km/h behind others", meanPowerW(flat, &bike, 0.53, 50.5/3.6), 316, 5)
	for place := 2; place <= 4; place++ {
		near(t, "shelter at a wheel", PlaceShelter(place), 0.59, 0.10)
	}
}

// With the usual approach of 20 s the sprints of such riders last as long as measured ones:
// 14 s of men, 22 ± 7 s of women (Menaspà et al. 2013, Peiffer et al. 2018).
func TestUsualSprintsLastAsMeasured(t *testing.T) {
	for _, c := range []struct {
		who                        string
		sprinter                   Sprinter
		fromS, toS, fromKmh, toKmh float64
	}{
		{"men", sprinter(t, 72, 410, 23_000, 1370), 8, 20, 58, 70},
		{"women", sprinter(t, 60, 265, 15_500, 886), 8, 29, 48, 62},
	} {
		a := behind(t, 0, 0, 15)
		a = behind(t, 0, 0, a.UsualSpeed(c.sprinter, UsualDemand))
		found := mustFind(t, a, c.sprinter)
		t.Logf("%s: %.1f km/h, %.0f m, %.1f s, up to %.1f km/h, %.0f W", c.who, a.SpeedMps*3.6, found.LaunchM, found.LaunchS, found.PeakSpeedMps*3.6, found.MeanPowerW)
		if found.LaunchS < c.fromS || found.LaunchS > c.toS {
			t.Errorf("%s: %.1f s", c.who, found.LaunchS)
		}
		if kmh := found.PeakSpeedMps * 3.6; kmh < c.fromKmh || kmh > c.toKmh {
			t.Errorf("%s: %.1f km/h", c.who, kmh)
		}
	}
}
