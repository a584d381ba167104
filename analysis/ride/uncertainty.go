package ride

import "math"

// Uncertainties are the standard deviations of what a ride is computed from: errors
// that are normal, independent of each other and constant over the ride. Values are
// kept to what is possible: no drag area, rolling resistance or power below 0, no
// efficiency above 1. NaN means not given in every field; the zero value is certainty.
type Uncertainties struct {
	// MassKg is that of the mass that is moved.
	MassKg float64
	// CdAM2 is that of the drag area, whoever's.
	CdAM2 float64
	Crr   float64
	// PowerPct is that of the asked power, in per cent of it. For a target time it is of
	// the power that takes it: the time spreads as it does for that power.
	PowerPct float64
	// WindMps is that of the wind as Sensitivity.PerWindMps has it.
	WindMps float64
	// TemperatureC is that of the temperature at the start, in K.
	TemperatureC float64
	// Efficiency is that of the drivetrain's efficiency.
	Efficiency float64
}

// Completed returns the uncertainties with defaults for a road filled in, and the
// defaults that were used. Drag areas that are estimated are less certain than given
// ones.
func (u Uncertainties) Completed(road *Road, estimated bool) (Uncertainties, []Assumption) {
	var used assumptions
	used.fill(&u.MassKg, Assumption{OfUncertainties, "mass_kg", 1, "kg", "common practice: body mass from day to day, clothes and bottles"})
	if estimated {
		used.fill(&u.CdAM2, Assumption{OfUncertainties, "cda_m2", 0.03, "m²", "common practice: spread between riders of one size on the hoods or in the drops"})
	} else {
		used.fill(&u.CdAM2, Assumption{OfUncertainties, "cda_m2", 0.01, "m²", "common practice: a measured drag area, about 3 %"})
	}
	used.fill(&u.Crr, Assumption{OfUncertainties, "crr", 0.0005, "1", "common practice: from one ordinary asphalt to another"})
	used.fill(&u.PowerPct, Assumption{OfUncertainties, "power_pct", 2.5, "%", "between the scatter within (1.2 %) and between (3.2 %) power meters of Maier et al. 2017, Int. J. Sports Med. 38:456–461"})
	used.fill(&u.Efficiency, Assumption{OfUncertainties, "drivetrain_efficiency", 0.01, "1", "within the losses of 2.1 ± 1.5 % from 100 to 400 W of Smit et al. 2023, Sports Eng. 26"})
	u.fillWeather(&road.Conditions, &used)
	return u, used
}

// forecastWindMps and forecastC are what forecasts for the next day are off by.
const (
	forecastWindMps = 1.5
	forecastC       = 2.0
)

// fillWeather fills in the defaults of the weather: those of a forecast where there is
// any.
func (u *Uncertainties) fillWeather(c *Conditions, used *assumptions) {
	const forecast = "common practice: error of a forecast for the next day"
	wind := Assumption{OfUncertainties, "wind_mps", 0, "m/s", "the calm is taken as stated"}
	warmth := Assumption{OfUncertainties, "temperature_c", forecastC, "°C", forecast}
	switch {
	case c.Indoor:
		wind.Source = "no wind indoors"
		warmth.Value, warmth.Source = 0, "the hall's air is taken as stated"
	case c.WindMps > 0:
		wind.Value, wind.Source = forecastWindMps, forecast
	case c.HeadwindMps != 0:
		wind.Value, wind.Source = WindAtRider(forecastWindMps, openGrassM), forecast+", brought to rider height"
	}
	used.fill(&u.WindMps, wind)
	used.fill(&u.TemperatureC, warmth)
}

func (u Uncertainties) validate() error {
	for _, sd := range []float64{u.MassKg, u.CdAM2, u.Crr, u.PowerPct, u.WindMps, u.TemperatureC, u.Efficiency} {
		if !(sd >= 0 && !math.IsInf(sd, 1)) {
			return invalid("an uncertainty is %v; each must be given, 0 or above", sd)
		}
	}
	return nil
}
