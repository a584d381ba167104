package ride

import "math"

// defaultRecoveryRate takes the recovery of W′ as the law gives it.
const defaultRecoveryRate = 1.0

// openGrassM is the roughness length of open grass (WMO classes after Davenport).
const openGrassM = 0.03

// DefaultBrakingMps2 is the deceleration in m/s² of a rider who brakes, a typical value.
const DefaultBrakingMps2 = 2.5

// Owner says whose value an assumption is.
type Owner string

// The owners.
const (
	OfRider      Owner = "rider"
	OfSetup      Owner = "setup"
	OfConditions Owner = "conditions"
	// OfUncertainties owns the standard deviations of the others' values.
	OfUncertainties Owner = "uncertainties"
)

// Assumption is a default that was used. Giving the value for Name in the request
// gives the same numbers.
type Assumption struct {
	Of Owner
	// Name is the contract's: "crr", "mass_kg", ….
	Name   string
	Value  float64
	Unit   string
	Source string
}

// assumptions collects the defaults that were used, in order.
type assumptions []Assumption

// fill sets a value that isn't given and notes it.
func (a *assumptions) fill(value *float64, def Assumption) {
	if math.IsNaN(*value) {
		*value = def.Value
		*a = append(*a, def)
	}
}

const martin1998 = "Martin et al. 1998, J. Appl. Biomech. 14:276–291"

// completed returns the set-up with every default filled in but for the drag area.
func (s Setup) completed(used *assumptions) Setup {
	used.fill(&s.MassKg, Assumption{OfSetup, "mass_kg", 8, "kg", "typical value of an all-round road bicycle"})
	used.fill(&s.Crr, Assumption{OfSetup, "crr", 0.004, "1", "typical value of a good tyre on ordinary asphalt"})
	used.fill(&s.DrivetrainEfficiency, Assumption{OfSetup, "drivetrain_efficiency", 0.977, "1", "between 0.976 (Martin et al. 1998) and 0.979 (Smit et al. 2023, Sports Eng. 26)"})
	used.fill(&s.WheelInertiaKgM2, Assumption{OfSetup, "wheel_inertia_kg_m2", 0.14, "kg·m²", martin1998})
	used.fill(&s.WheelRadiusM, Assumption{OfSetup, "wheel_radius_m", 0.311, "m", martin1998})
	used.fill(&s.WheelDragAreaM2, Assumption{OfSetup, "wheel_drag_area_m2", 0.0044, "m²", martin1998})
	used.fill(&s.BearingN, Assumption{OfSetup, "bearing_n", 0.091, "N", martin1998})
	used.fill(&s.BearingNsPerM, Assumption{OfSetup, "bearing_n_s_per_m", 0.0087, "N·s/m", martin1998})
	return s
}

// completed returns the rider with the defaults filled in that a ride needs; the drag
// area only where the set-up doesn't bring one.
func (r Rider) completed(s Setup, used *assumptions) Rider {
	if math.IsNaN(s.CdAM2) && math.IsNaN(r.CdAM2) {
		used.fill(&r.HeightM, Assumption{OfRider, "height_m", TypicalHeightM, "m", "typical value"})
		used.fill(&r.CdAM2, Assumption{
			OfRider, "cda_m2", EstimateDragArea(r.HeightM, r.MassKg), "m²",
			"0.32 m², a typical value at 75 kg and 1.80 m, scaled by frontal area (Bassett et al. 1999, Med. Sci. Sports Exerc. 31:1665–1676)",
		})
	}
	if r.CriticalPowerW > 0 && r.WPrimeJ > 0 {
		used.fill(&r.RecoveryRate, Assumption{OfRider, "recovery_rate", defaultRecoveryRate, "1", "the recovery law as published"})
	}
	used.fill(&r.GrossEfficiency, Assumption{OfRider, "gross_efficiency", 0.22, "1", "between trained (0.198, Moseley & Jeukendrup 2001) and world-class riders (0.245, Lucia et al. 2002)"})
	return r
}

// completed returns the conditions with the defaults filled in but for the air's.
func (c Conditions) completed(hasPositions bool, used *assumptions) Conditions {
	if !c.Indoor {
		used.fill(&c.WindMps, Assumption{OfConditions, "wind_mps", 0, "m/s", "calm"})
		used.fill(&c.HeadwindMps, Assumption{OfConditions, "headwind_mps", 0, "m/s", "calm"})
		if c.WindMps > 0 {
			used.fill(&c.RoughnessM, Assumption{OfConditions, "wind_roughness_m", openGrassM, "m", "open grass, WMO roughness classes after Davenport"})
		}
		used.fill(&c.CoastAboveMps, Assumption{OfConditions, "coast_above_mps", 17, "m/s", "typical value"})
		if hasPositions {
			used.fill(&c.LateralMps2, Assumption{OfConditions, "lateral_mps2", 3.5, "m/s²", "typical value on dry asphalt, about a third of the adhesion"})
			used.fill(&c.BrakingMps2, Assumption{OfConditions, "braking_mps2", DefaultBrakingMps2, "m/s²", "typical value, below the design deceleration of 3.4 m/s² (AASHTO)"})
		}
	}
	used.fill(&c.Shelter, Assumption{OfConditions, "shelter", 1, "1", "riding alone"})
	used.fill(&c.LoadKg, Assumption{OfConditions, "load_kg", 0, "kg", "nothing carried"})
	used.fill(&c.StartSpeedMps, Assumption{OfConditions, "start_speed_mps", 0, "m/s", "from standstill"})
	return c
}
