package plan

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/ride"
)

// optimum is a plan of testdata/optima: a problem and the powers that an independent
// solver found for it, one for each piece of the course. testdata/optima/make.py says how.
type optimum struct {
	Course struct {
		DistanceM     []float64 `json:"distance_m"`
		ElevationM    []float64 `json:"elevation_m"`
		HeadingDeg    []float64 `json:"heading_deg"`
		CurvaturePerM []float64 `json:"curvature_per_m"`
	} `json:"course"`
	Rider struct {
		MassKg         float64          `json:"mass_kg"`
		CdAM2          float64          `json:"cda_m2"`
		CriticalPowerW float64          `json:"critical_power_w"`
		WPrimeJ        float64          `json:"w_prime_j"`
		MaxPowerW      float64          `json:"max_power_w"`
		RecoveryRate   float64          `json:"recovery_rate"`
		RecoveryLaw    ride.RecoveryLaw `json:"recovery_law"`
	} `json:"rider"`
	Setup struct {
		MassKg               float64 `json:"mass_kg"`
		Crr                  float64 `json:"crr"`
		DrivetrainEfficiency float64 `json:"drivetrain_efficiency"`
		WheelDragAreaM2      float64 `json:"wheel_drag_area_m2"`
		BearingN             float64 `json:"bearing_n"`
		BearingNsPerM        float64 `json:"bearing_n_s_per_m"`
	} `json:"setup"`
	Conditions struct {
		AirDensityKgM3 float64 `json:"air_density_kg_m3"`
		WindMps        float64 `json:"wind_mps"`
		WindFromDeg    float64 `json:"wind_from_deg"`
		HeadwindMps    float64 `json:"headwind_mps"`
		Indoor         bool    `json:"indoor"`
		LoadKg         float64 `json:"load_kg"`
		StartSpeedMps  float64 `json:"start_speed_mps"`
		CoastAboveMps  float64 `json:"coast_above_mps"`
		NoBends        bool    `json:"no_bends"`
	} `json:"conditions"`
	Limits struct {
		MinPowerW   float64 `json:"min_power_w"`
		MaxPowerW   float64 `json:"max_power_w"`
		EndReserveJ float64 `json:"end_reserve_j"`
		MeanPowerW  float64 `json:"mean_power_w"`
	} `json:"limits"`
	// TimeS is what the powers take by a fine integration outside of this module.
	TimeS  float64   `json:"time_s"`
	PowerW []float64 `json:"power_w"`
}

// readOptimum reads a file; what isn't given in it stays unset.
func readOptimum(t *testing.T, path string) *optimum {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	o := &optimum{}
	for _, optional := range []*float64{
		&o.Rider.MaxPowerW, &o.Rider.RecoveryRate,
		&o.Setup.DrivetrainEfficiency, &o.Setup.WheelDragAreaM2, &o.Setup.BearingN, &o.Setup.BearingNsPerM,
		&o.Conditions.AirDensityKgM3, &o.Conditions.WindMps, &o.Conditions.WindFromDeg, &o.Conditions.HeadwindMps,
		&o.Conditions.LoadKg, &o.Conditions.StartSpeedMps, &o.Conditions.CoastAboveMps,
		&o.Limits.MinPowerW, &o.Limits.MaxPowerW, &o.Limits.EndReserveJ, &o.Limits.MeanPowerW,
	} {
		*optional = unset
	}
	if err := json.Unmarshal(text, o); err != nil {
		t.Fatal(path, err)
	}
	return o
}

func (o *optimum) road(t *testing.T) *ride.Road {
	t.Helper()
	c := &course.Course{S: o.Course.DistanceM, Z: o.Course.ElevationM, Heading: o.Course.HeadingDeg, Curvature: o.Course.CurvaturePerM}
	if c.Heading != nil {
		c.Pos = make([]geodesy.Vec, len(c.S)) // where on earth doesn't matter
	}
	cond := conditions()
	in := o.Conditions
	cond.AirDensityKgM3, cond.WindMps, cond.WindFromDeg, cond.HeadwindMps = in.AirDensityKgM3, in.WindMps, in.WindFromDeg, in.HeadwindMps
	cond.Indoor, cond.LoadKg, cond.StartSpeedMps, cond.CoastAboveMps = in.Indoor, in.LoadKg, in.StartSpeedMps, in.CoastAboveMps
	if in.NoBends {
		cond.LateralMps2 = math.Inf(1)
	}
	return mustRoad(t, c, cond)
}

func (o *optimum) rider() ride.Rider {
	r, in := capable(o.Rider.CriticalPowerW, o.Rider.WPrimeJ), o.Rider
	r.MassKg, r.CdAM2, r.MaxPowerW, r.RecoveryRate, r.RecoveryLaw = in.MassKg, in.CdAM2, in.MaxPowerW, in.RecoveryRate, in.RecoveryLaw
	return r
}

func (o *optimum) setup() ride.Setup {
	s, in := setup(), o.Setup
	s.MassKg, s.Crr, s.DrivetrainEfficiency, s.WheelDragAreaM2 = in.MassKg, in.Crr, in.DrivetrainEfficiency, in.WheelDragAreaM2
	s.BearingN, s.BearingNsPerM = in.BearingN, in.BearingNsPerM
	return s
}

func (o *optimum) limits() Limits {
	in, limits := o.Limits, Unlimited()
	limits.MinPowerW, limits.MaxPowerW, limits.EndReserveJ, limits.MeanPowerW = in.MinPowerW, in.MaxPowerW, in.EndReserveJ, in.MeanPowerW
	return limits
}

// steps are the solver's powers.
func (o *optimum) steps() []ride.Step {
	steps := make([]ride.Step, len(o.PowerW))
	for i, w := range o.PowerW {
		steps[i] = ride.Step{EndM: o.Course.DistanceM[i+1], PowerW: w}
	}
	return steps
}

// leakJ is how far beyond its limits a plan of the solver may be: its powers are rounded
// to 1 mW and its motion integrated by another rule.
const leakJ = 1.0

// Plans against those of a general nonlinear solver (Ipopt; Wächter & Biegler 2006,
// Math. Program. 106:25–57) with power free on every 10 m or 20 m, of several starts the
// best. First the solver's powers are ridden by our motion: they must keep to the limits
// and take the time that an integration in another language gave. Then our plan may be
// 0.2 % slower.
func TestAgainstIndependentOptima(t *testing.T) {
	paths, err := filepath.Glob("testdata/optima/*.json")
	if err != nil || len(paths) == 0 {
		t.Fatal("no optima", err)
	}
	for _, path := range paths {
		name := strings.TrimSuffix(filepath.Base(path), ".json")
		t.Run(name, func(t *testing.T) {
			o := readOptimum(t, path)
			road, r, s, limits := o.road(t), o.rider(), o.setup(), o.limits()
			theirs, err := ride.Simulate(t.Context(), road, r, s, ride.Effort{Kind: ride.BySteps, Steps: o.steps()}, nil)
			if err != nil {
				t.Fatal(err)
			}
			if off := theirs.TimeS/o.TimeS - 1; math.Abs(off) > 5e-4 {
				t.Errorf("the solver's powers take %.3f s, %.3f s elsewhere", theirs.TimeS, o.TimeS)
			}
			if leak := leakOf(theirs, r, limits); leak > leakJ {
				t.Errorf("the solver's plan is %v J beyond its limits", leak)
			}
			ours, err := Optimise(t.Context(), road, r, s, limits, nil)
			if err != nil {
				t.Fatal(err)
			}
			if leak := leakOf(ours.Ride, r, limits); leak > 1e-3 || ours.FellBack {
				t.Errorf("our plan is %v J beyond its limits; fell back: %v", leak, ours.FellBack)
			}
			gap := 100 * (ours.Ride.TimeS/theirs.TimeS - 1)
			t.Logf("solver %.2f s (elsewhere %.2f), ours %.2f s: %+.3f %%; at constant power %.2f s", theirs.TimeS, o.TimeS, ours.Ride.TimeS, gap, ours.Constant.TimeS)
			if strings.HasPrefix(name, "last-climb") && gap > 0.05 {
				t.Errorf("our plan is %.3f %% slower: it may be another optimum, with W′ spent elsewhere", gap)
			}
			if gap > 0.2 {
				t.Errorf("our plan is %.3f %% slower", gap)
			}
		})
	}
}
