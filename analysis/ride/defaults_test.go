package ride

import "testing"

// give sets the value that an assumption names.
func give(t *testing.T, a Assumption, r *Rider, s *Setup, c *Conditions) {
	places := map[Owner]map[string]*float64{
		OfRider: {
			"height_m": &r.HeightM, "cda_m2": &r.CdAM2, "recovery_rate": &r.RecoveryRate, "gross_efficiency": &r.GrossEfficiency,
		},
		OfSetup: {
			"mass_kg": &s.MassKg, "crr": &s.Crr, "drivetrain_efficiency": &s.DrivetrainEfficiency,
			"wheel_inertia_kg_m2": &s.WheelInertiaKgM2, "wheel_radius_m": &s.WheelRadiusM,
			"wheel_drag_area_m2": &s.WheelDragAreaM2, "bearing_n": &s.BearingN, "bearing_n_s_per_m": &s.BearingNsPerM,
		},
		OfConditions: {
			"temperature_c": &c.TemperatureC, "pressure_hpa": &c.PressureHPa, "humidity_pct": &c.HumidityPct,
			"wind_mps": &c.WindMps, "headwind_mps": &c.HeadwindMps, "wind_roughness_m": &c.RoughnessM,
			"coast_above_mps": &c.CoastAboveMps, "lateral_mps2": &c.LateralMps2, "braking_mps2": &c.BrakingMps2,
			"shelter": &c.Shelter, "load_kg": &c.LoadKg, "start_speed_mps": &c.StartSpeedMps,
		},
	}
	place := places[a.Of][a.Name]
	if place == nil || a.Unit == "" || a.Source == "" {
		t.Fatalf("an assumption that can't be given back: %+v", a)
	}
	*place = a.Value
}

func TestAssumptionsGivenBackAreTheSameRide(t *testing.T) {
	windy, warm, hall := conditions(), conditions(), conditions()
	windy.WindMps, windy.WindFromDeg = 5, 100
	warm.TemperatureC = 28
	hall.Indoor, hall.HumidityPct = true, 60
	for _, cond := range []Conditions{conditions(), windy, warm, hall} {
		r, s := rider(68), setup()
		r.CriticalPowerW, r.WPrimeJ = 250, 15_000
		c := rolling(t).course
		road := mustRoad(t, c, cond)
		ride := mustRide(t, road, r, s, watts(230))
		if len(ride.Bike.Assumptions) < 10 || len(road.Assumptions) < 3 {
			t.Fatalf("few assumptions: %v, %v", ride.Bike.Assumptions, road.Assumptions)
		}
		for _, a := range append(road.Assumptions, ride.Bike.Assumptions...) {
			give(t, a, &r, &s, &cond)
		}
		again := mustRoad(t, c, cond)
		same := mustRide(t, again, r, s, watts(230))
		if same.TimeS != ride.TimeS || same.WorkJ != ride.WorkJ || same.Balance.EndJ != ride.Balance.EndJ {
			t.Errorf("%v s became %v s", ride.TimeS, same.TimeS)
		}
		if left := len(again.Assumptions) + len(same.Bike.Assumptions); left != 0 {
			t.Errorf("%d assumptions are left: %v %v", left, again.Assumptions, same.Bike.Assumptions)
		}
	}
}

func TestDragAreaGoesBySetupThenRider(t *testing.T) {
	r, s := rider(75), setup()
	area := func() float64 {
		b, err := NewBike(r, s, conditions().completed(true, &assumptions{}))
		if err != nil {
			t.Fatal(err)
		}
		return b.CdAM2
	}
	near(t, "estimate", area(), 0.32, 1e-12)
	s.CdAChangeM2 = -0.04
	near(t, "estimate with change", area(), 0.28, 1e-12)
	r.CdAM2 = 0.30
	near(t, "rider's with change", area(), 0.26, 1e-12)
	s.CdAM2 = 0.25
	near(t, "set-up's", area(), 0.25, 0)
	s.CdAM2, s.CdAChangeM2 = unset, -0.4
	if _, err := NewBike(r, s, conditions()); codeOf(err) != CodeInvalid {
		t.Errorf("negative drag area: %v", err)
	}
}

func TestAirFollowsTheElevation(t *testing.T) {
	c := profile([]float64{0, 10_000}, []float64{500, 1500})
	road := mustRoad(t, c, conditions())
	first, last := road.Pieces[0], road.Pieces[len(road.Pieces)-1]
	_, _, low := StandardAir(501)
	_, _, high := StandardAir(1499)
	near(t, "kg/m³ at the foot", first.AirDensityKgM3, low, 1e-12)
	near(t, "kg/m³ at the top", last.AirDensityKgM3, high, 1e-12)
	// The standard temperature and pressure given are CIPM's air all the way up.
	cond := conditions()
	cond.TemperatureC = 15 - 3.25
	road = mustRoad(t, c, cond)
	near(t, "pressure at the start", road.Conditions.PressureHPa, 954.61, 0.01)
	near(t, "kg/m³ at the top", road.Pieces[len(road.Pieces)-1].AirDensityKgM3, high, 6e-4)
	cond.Indoor = true
	road = mustRoad(t, c, cond)
	near(t, "indoors", road.Pieces[0].AirDensityKgM3-road.Pieces[len(road.Pieces)-1].AirDensityKgM3, 0, 0)
}
