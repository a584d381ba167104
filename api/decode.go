package api

import (
	"encoding/base64"
	"encoding/json"
	"math"
	"slices"

	"parcours.example/analysis/ride"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// decodeJSON fills v from a body that the contract has already been held against.
func decodeJSON(body []byte, v any) error {
	if err := json.Unmarshal(body, v); err != nil {
		return &problem{kind: kindInvalidRequest, detail: "The body doesn't fit the contract: " + clip(err.Error())}
	}
	return nil
}

// number returns what p points to, NaN for nothing: not given.
func number(p *float64) float64 { return valueOr(p, math.NaN()) }

// decodeSource turns the contract's course reference, which stands at a pointer, into
// the engine's.
func decodeSource(at string, r CourseReference) (engine.CourseSource, error) {
	given := 0
	for _, is := range []bool{r.CourseID != nil, r.File != nil, r.Profile != nil} {
		if is {
			given++
		}
	}
	if given != 1 {
		return engine.CourseSource{}, invalidField(at, "exactly-one", "give exactly one of course_id, file and profile")
	}
	if r.CourseID != nil && r.Options != nil {
		return engine.CourseSource{}, invalidField(at+"/options", "not-allowed", "a cached course has its options already; leave them out beside course_id")
	}
	source := engine.CourseSource{Pointer: at, ID: valueOr(r.CourseID, "")}
	var err error
	if source.Options, err = decodeOptions(at+"/options", r.Options); err != nil {
		return source, err
	}
	if r.Profile != nil {
		source.Profile = decodeProfile(r.Profile)
	}
	if r.File != nil {
		source.File, err = decodeFile(at+"/file", r.File)
	}
	return source, err
}

// decodeProfile turns the contract's table into the engine's, without elevations all
// of them unknown.
func decodeProfile(p *ProfileInput) *engine.Profile {
	out := &engine.Profile{DistanceM: p.DistanceM, ElevationM: valueOr(p.ElevationM, nil)}
	if p.ElevationM == nil {
		out.ElevationM = slices.Repeat([]float64{math.NaN()}, len(p.DistanceM))
	}
	return out
}

// decodeFile turns a file inside JSON, at a pointer, into its bytes.
func decodeFile(at string, f *CourseFile) (*engine.File, error) {
	file := &engine.File{MediaType: valueOr(f.MediaType, ""), Content: []byte(f.Content)}
	if valueOr(f.Encoding, "utf-8") == "base64" {
		content, err := base64.StdEncoding.DecodeString(f.Content)
		if err != nil {
			return nil, invalidField(at+"/content", "bad-format", "the content isn't base64: "+err.Error())
		}
		file.Content = content
	}
	return file, nil
}

// invalidField is the problem of one field.
func invalidField(at, code, detail string) *problem {
	return &problem{
		kind: kindInvalidRequest, detail: "The request doesn't fit the contract; see errors.",
		faults: []Fault{{Pointer: &at, Code: code, Detail: detail}},
	}
}

func decodeRider(r Rider) ride.Rider {
	return ride.Rider{
		Name: valueOr(r.Name, ""), MassKg: r.MassKg, HeightM: number(r.HeightM), CdAM2: number(r.CdaM2),
		PowerW: number(r.PowerW), CriticalPowerW: number(r.CriticalPowerW), WPrimeJ: number(r.WPrimeJ), MaxPowerW: number(r.MaxPowerW),
		RecoveryRate: number(r.RecoveryRate), RecoveryLaw: ride.RecoveryLaw(valueOr(r.RecoveryLaw, RiderRecoveryLawProportional)),
		GrossEfficiency: number(r.GrossEfficiency),
	}
}

func decodeSetup(s Setup) ride.Setup {
	return ride.Setup{
		Name: valueOr(s.Name, ""), MassKg: number(s.MassKg), CdAM2: number(s.CdaM2), CdAChangeM2: number(s.CdaChangeM2),
		Crr: number(s.Crr), DrivetrainEfficiency: number(s.DrivetrainEfficiency),
		WheelInertiaKgM2: number(s.WheelInertiaKgM2), WheelRadiusM: number(s.WheelRadiusM), WheelDragAreaM2: number(s.WheelDragAreaM2),
		BearingN: number(s.BearingN), BearingNsPerM: number(s.BearingNSPerM),
	}
}

func decodeConditions(p *Conditions) ride.Conditions {
	c := valueOr(p, Conditions{})
	out := ride.Conditions{
		TemperatureC: number(c.TemperatureC), PressureHPa: number(c.PressureHpa), HumidityPct: number(c.HumidityPct),
		AirDensityKgM3: number(c.AirDensityKgM3), WindMps: number(c.WindMps), WindFromDeg: number(c.WindFromDeg),
		RoughnessM: number(c.WindRoughnessM), HeadwindMps: number(c.HeadwindMps), Indoor: valueOr(c.Indoor, false),
		Shelter: number(c.Shelter), LoadKg: number(c.LoadKg), StartSpeedMps: number(c.StartSpeedMps),
		CoastAboveMps: number(c.CoastAboveMps), LateralMps2: number(c.LateralMps2), BrakingMps2: number(c.BrakingMps2),
	}
	if !valueOr(c.Bends, true) {
		out.LateralMps2 = math.Inf(1)
	}
	if !valueOr(c.Braking, true) {
		out.BrakingMps2 = math.Inf(1)
	}
	return out
}
