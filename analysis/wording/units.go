package wording

import "math"

// The mile and the foot in metres (International yard and pound agreement, 1959).
const (
	MetresPerMile = 1609.344
	MetresPerFoot = 0.3048
)

// kgPerPound is the pound in kilograms (the same agreement).
const kgPerPound = 0.45359237

// litresPerFluidOunce is the customary ounce of the United States in litres: 231/128
// cubic inches.
const litresPerFluidOunce = 0.0295735295625

// feetUpToM is where short lengths change from feet to miles.
const feetUpToM = 300

// Units are the units that people read: metric, or imperial.
type Units struct{ Imperial bool }

// Length writes a distance: kilometres to one decimal, below 1 km metres to ten, below
// 10 m to one; or miles to one decimal, below a mile to two, short ones in feet.
func (u Units) Length(m float64) string {
	switch miles := m / MetresPerMile; {
	case u.Imperial && m < feetUpToM:
		return tens(m/MetresPerFoot) + " ft"
	case u.Imperial && miles < 0.995:
		return Rounded(miles, 2) + " miles"
	case u.Imperial:
		return u.Bare(m) + " miles"
	case m < 995-5e-7:
		return tens(m) + " m"
	}
	return u.Bare(m) + " km"
}

// tens rounds to ten, below ten to one.
func tens(v float64) string {
	if v < 9.5 {
		return Rounded(v, 0)
	}
	return Rounded(math.Round(math.Round(v*1e6)/1e7)*10, 0)
}

// Bare writes a distance in the long unit to one decimal, without the unit.
func (u Units) Bare(m float64) string { return Rounded(m/u.LongM(), 1) }

// Long is the name of the unit that Bare leaves out, LongM the unit in metres.
func (u Units) Long() string {
	if u.Imperial {
		return "miles"
	}
	return "km"
}

// LongM is the long unit in metres.
func (u Units) LongM() float64 {
	if u.Imperial {
		return MetresPerMile
	}
	return 1000
}

// Height writes a rise, an elevation or a short exact length to the metre or foot.
func (u Units) Height(m float64) string { return Rounded(m/u.ShortM(), 0) + " " + u.Short() }

// Short is the name of the unit of heights.
func (u Units) Short() string {
	if u.Imperial {
		return "ft"
	}
	return "m"
}

// ShortM is the unit of heights in metres.
func (u Units) ShortM() float64 {
	if u.Imperial {
		return MetresPerFoot
	}
	return 1
}

// Speed writes a mean speed in m/s to a tenth of km/h or mph.
func (u Units) Speed(mps float64) string {
	if u.Imperial {
		return Rounded(float64(mps*3600)/MetresPerMile, 1) + " mph"
	}
	return Rounded(mps*3.6, 1) + " km/h"
}

// SpeedUnit is the name of the unit of speeds, SpeedMps the unit in m/s.
func (u Units) SpeedUnit() string {
	if u.Imperial {
		return "mph"
	}
	return "km/h"
}

// SpeedMps is the unit of speeds in m/s.
func (u Units) SpeedMps() float64 {
	if u.Imperial {
		return MetresPerMile / 3600
	}
	return 1 / 3.6
}

// Mass writes a mass in whole kilograms or pounds.
func (u Units) Mass(kg float64) string {
	if u.Imperial {
		return Rounded(kg/kgPerPound, 0) + " lb"
	}
	return Rounded(kg, 0) + " kg"
}

// Radius writes a bend's radius, a rough figure, to 5 m or 10 ft.
func (u Units) Radius(m float64) string {
	if u.Imperial {
		return Rounded(max(math.Round(m/MetresPerFoot/10), 1)*10, 0) + " ft"
	}
	return Rounded(max(math.Round(m/5), 1)*5, 0) + " m"
}

// Fine writes a small height, as a scatter is, to a tenth of a metre or foot.
func (u Units) Fine(m float64) string { return Rounded(m/u.ShortM(), 1) + " " + u.Short() }

// Drink writes an amount of drink in l to a tenth of a litre or to the fluid ounce.
func (u Units) Drink(l float64) string {
	if u.Imperial {
		return Rounded(l/litresPerFluidOunce, 0) + " fl oz"
	}
	return Rounded(l, 1) + " l"
}

// Position writes a place along the course: km to ten metres, or miles to a hundredth.
func (u Units) Position(m float64) string {
	if u.Imperial {
		return Rounded(m/MetresPerMile, 2) + " miles"
	}
	return Position(m)
}
