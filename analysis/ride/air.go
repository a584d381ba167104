package ride

import (
	"math"

	"parcours.example/analysis/elementary"
)

// Constants of the standard atmosphere (ISO 2533:1975).
const (
	standardTemperatureK = 288.15
	standardPressurePa   = 101325.0
	lapseKPerM           = 0.0065
	// airGasConstant is the specific gas constant of dry air in J/(kg·K).
	airGasConstant = 287.05287
	// lapseExponent is g/(R·lapse), with which pressure follows temperature.
	lapseExponent = 9.80665 / (airGasConstant * lapseKPerM)
	zeroCelsiusK  = 273.15
)

// The elevations in metres to which the air is computed; beyond them it stays.
const (
	lowestAirM  = -5000.0
	highestAirM = 11000.0
)

// StandardAir returns the temperature in K, the pressure in Pa and the density in
// kg/m³ of the standard atmosphere (ISO 2533:1975, troposphere) at an elevation in
// metres, taken as geopotential height and kept within −5,000…11,000 m.
func StandardAir(elevationM float64) (temperatureK, pressurePa, densityKgM3 float64) {
	h := min(max(elevationM, lowestAirM), highestAirM)
	t := standardTemperatureK - float64(lapseKPerM*h)
	p := standardPressurePa * elementary.Pow(t/standardTemperatureK, lapseExponent)
	return t, p, p / (airGasConstant * t)
}

// MoistAirDensity returns the density of moist air in kg/m³ by CIPM-2007 (Picard,
// Davis, Gläser, Fujii 2008, Metrologia 45:149–155) with 400 ppm of carbon dioxide, at
// a temperature in °C, a pressure in Pa and a relative humidity of 0…1. The formula is
// stated for 600–1,100 hPa and 15–27 °C and used beyond.
func MoistAirDensity(temperatureC, pressurePa, humidity float64) float64 {
	const (
		gas    = 8.314472
		dry    = 28.96546e-3 // kg/mol
		vapour = 18.01528e-3 // kg/mol
	)
	t, p := temperatureC, pressurePa
	kelvin := t + zeroCelsiusK
	saturation := elementary.Exp(float64(1.2378847e-5*kelvin*kelvin) - float64(1.9121316e-2*kelvin) + 33.93711047 - 6.3431645e3/kelvin)
	enhancement := 1.00062 + float64(3.14e-8*p) + float64(5.6e-7*t*t)
	x := humidity * enhancement * saturation / p
	z := compressibility(t, p/kelvin, x)
	return p * dry / (z * gas * kelvin) * (1 - float64(x*(1-vapour/dry)))
}

// compressibility is Z of CIPM-2007 at t °C, a ratio of pressure to temperature in Pa/K
// and a mole fraction x of water vapour.
func compressibility(t, ratio, x float64) float64 {
	linear := 1.58123e-6 - float64(2.9331e-8*t) + float64(1.1043e-10*t*t) +
		float64((5.707e-6-float64(2.051e-8*t))*x) + float64((1.9898e-4-float64(2.376e-6*t))*x*x)
	return 1 - float64(ratio*linear) + float64(ratio*ratio*(1.83e-11-float64(0.765e-8*x*x)))
}

// air is the air over a course: what holds at the start's elevation and how it
// follows the elevation.
type air struct {
	// constant holds everywhere unless NaN.
	constant float64
	// standard is the ISO 2533 atmosphere.
	standard bool
	// At startM: K, Pa, 0…1.
	startM, temperatureK, pressurePa, humidity float64
}

// densityAt returns the density in kg/m³ at an elevation: from the start the
// temperature falls by 6.5 K/km and the pressure hydrostatically with it.
func (a air) densityAt(elevationM float64) float64 {
	switch {
	case !math.IsNaN(a.constant):
		return a.constant
	case a.standard:
		_, _, density := StandardAir(elevationM)
		return density
	}
	h := min(max(elevationM, lowestAirM), highestAirM)
	t := a.temperatureK - float64(lapseKPerM*(h-a.startM))
	p := a.pressurePa * elementary.Pow(t/a.temperatureK, lapseExponent)
	return MoistAirDensity(t-zeroCelsiusK, p, a.humidity)
}

// newAir reads the conditions, completed but for pressure, temperature and humidity,
// and names the defaults it used.
func newAir(c *Conditions, startM float64, used *assumptions) air {
	if !math.IsNaN(c.AirDensityKgM3) {
		return air{constant: c.AirDensityKgM3}
	}
	a := air{constant: math.NaN(), startM: min(max(startM, lowestAirM), highestAirM)}
	if math.IsNaN(c.TemperatureC) && math.IsNaN(c.PressureHPa) && math.IsNaN(c.HumidityPct) {
		a.standard = true
	} else {
		t, p, _ := StandardAir(startM)
		used.fill(&c.TemperatureC, Assumption{OfConditions, "temperature_c", t - zeroCelsiusK, "°C", "ISO 2533:1975 at the start's elevation"})
		used.fill(&c.PressureHPa, Assumption{OfConditions, "pressure_hpa", p / 100, "hPa", "ISO 2533:1975 at the start's elevation"})
		used.fill(&c.HumidityPct, Assumption{OfConditions, "humidity_pct", 0, "%", "dry air, as ISO 2533:1975"})
		a.temperatureK, a.pressurePa, a.humidity = c.TemperatureC+zeroCelsiusK, c.PressureHPa*100, c.HumidityPct/100
	}
	if c.Indoor {
		a.constant = a.densityAt(startM)
	}
	return a
}
