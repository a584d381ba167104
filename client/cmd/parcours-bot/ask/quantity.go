package ask

import (
	"math"
	"regexp"
	"strconv"
	"strings"
)

// unit is what a number counts.
type unit int

// The units that are read.
const (
	noUnit unit = iota
	kilogram
	pound
	stone
	watt
	wattPerKilogram
	wattPerPound
	metre
	centimetre
	foot
	inch
)

// Exact by definition (international yard and pound agreement of 1959).
const (
	kgPerPound = 0.45359237
	mPerInch   = 0.0254
)

// The ranges that are taken, those of the contract's Rider.
const (
	leastMassKg, mostMassKg     = 20, 250
	leastPowerW, mostPowerW     = 1, 4000
	leastWPerKg, mostWPerKg     = 0.1, 40
	leastHeightM, mostHeightM   = 1, 2.5
	poundsPerStone, footInInchs = 14, 12
)

// unitOf reads a unit, noUnit for what is none.
func unitOf(w string) unit {
	switch strings.Trim(w, ".,") {
	case "kg", "kgs", "kilo", "kilos", "kilogram", "kilograms", "kilogramme", "kilogrammes":
		return kilogram
	case "lb", "lbs", "pound", "pounds":
		return pound
	case "stone", "stones", "st":
		return stone
	case "w", "watt", "watts":
		return watt
	case "w/kg", "watt/kg", "watts/kg", "w/kilo", "wkg", "w·kg", "wpk":
		return wattPerKilogram
	case "w/lb", "watts/lb", "watt/lb", "w/lbs":
		return wattPerPound
	case "m", "metre", "metres", "meter", "meters":
		return metre
	case "cm", "centimetre", "centimetres", "centimeter", "centimeters": //nolint:misspell // as some write it
		return centimetre
	case "ft", "foot", "feet":
		return foot
	case "in", "inch", "inches":
		return inch
	}
	return noUnit
}

// quantity takes a number and its unit.
func (r *reader) quantity() {
	w := r.words[0]
	if m := feetAndInches.FindStringSubmatch(w); m != nil {
		r.words = r.words[1:]
		r.feet(m[1], m[2])
		return
	}
	value, ok := r.number(w)
	if !ok {
		r.words = r.words[1:]
		return
	}
	u, taken := r.unitAhead()
	r.words = r.words[1+taken:]
	switch u {
	case noUnit:
		r.fault("I can't tell what %s counts: write kg or lb behind a mass, W or W/kg behind a power", w)
	case kilogram:
		r.setMass(value)
	case pound:
		r.setMass(value * kgPerPound)
	case stone:
		r.setMass((value*poundsPerStone + r.pounds()) * kgPerPound)
	case watt:
		r.setPower(value, 0)
	case wattPerKilogram:
		r.setPower(0, value)
	case wattPerPound:
		r.setPower(0, value/kgPerPound)
	case metre:
		r.setHeight(value)
	case centimetre:
		r.setHeight(value / 100)
	case inch:
		r.setHeight(value * mPerInch)
	case foot:
		r.setHeight((value*footInInchs + r.inches()) * mPerInch)
	}
}

// feetAndInches is a height like 5'11 or 6'.
var feetAndInches = regexp.MustCompile(`^(\d)'(\d{1,2})?'?"?$`)

func (r *reader) feet(feet, inches string) {
	f, _ := strconv.Atoi(feet)   // a digit
	i, _ := strconv.Atoi(inches) // two at most, or none
	r.setHeight(float64(f*footInInchs+i) * mPerInch)
}

// unitAhead reads the unit behind a number and how many words it takes: "watts per kg" is one.
func (r *reader) unitAhead() (unit, int) {
	if len(r.words) < 2 {
		return noUnit, 0
	}
	u := unitOf(r.words[1])
	if u == watt && len(r.words) >= 4 && (r.words[2] == "per" || r.words[2] == "a" || r.words[2] == "/") {
		switch unitOf(r.words[3]) {
		case kilogram:
			return wattPerKilogram, 3
		case pound:
			return wattPerPound, 3
		}
	}
	if u == noUnit {
		return noUnit, 0
	}
	return u, 1
}

// pounds takes the pounds that stand behind stones, inches the inches behind feet.
func (r *reader) pounds() float64 { return r.behind(pound) }
func (r *reader) inches() float64 { return r.behind(inch) }

func (r *reader) behind(u unit) float64 {
	if len(r.words) < 2 || unitOf(r.words[1]) != u {
		return 0
	}
	v, err := strconv.ParseFloat(strings.Replace(r.words[0], ",", ".", 1), 64)
	if err != nil {
		return 0
	}
	r.words = r.words[2:]
	return v
}

// number reads a number with a decimal point or a decimal comma. What could be thousands as
// well is a fault.
func (r *reader) number(w string) (float64, bool) {
	if whole, group, ok := strings.Cut(w, ","); ok && len(group) == 3 && whole != "0" && !strings.Contains(group, ".") {
		r.fault("%s may be a decimal or thousands: write it without a comma", w)
		return 0, false
	}
	v, err := strconv.ParseFloat(strings.Replace(w, ",", ".", 1), 64)
	if err != nil {
		if strings.ContainsFunc(w, func(c rune) bool { return (c < '0' || c > '9') && c != '.' && c != ',' }) {
			r.left = append(r.left, w) // a name that begins with a digit
		} else {
			r.fault("%s is not a number I can read", w)
		}
		return 0, false
	}
	return v, true
}

func (r *reader) setMass(kg float64) {
	switch {
	case r.mass && math.Abs(kg-r.q.MassKg) > 0.05:
		r.fault("you give two masses, %s and %s kg: ask for one rider at a time", short(r.q.MassKg), short(kg))
	case !within(kg, leastMassKg, mostMassKg):
		r.fault("a body mass of %s kg is not from %d to %d kg", short(kg), leastMassKg, mostMassKg)
	default:
		r.q.MassKg = kg
	}
	r.mass = true
}

func (r *reader) setPower(w, wPerKg float64) {
	switch {
	case r.power && (math.Abs(w-r.q.PowerW) > 0.5 || math.Abs(wPerKg-r.q.WPerKg) > 0.005):
		r.fault("you give two powers: ask for one at a time")
	case wPerKg != 0 && !within(wPerKg, leastWPerKg, mostWPerKg):
		r.fault("%s W/kg is not from %v to %d W/kg", short(wPerKg), leastWPerKg, mostWPerKg)
	case wPerKg == 0 && !within(w, leastPowerW, mostPowerW):
		r.fault("a power of %s W is not from %d to %d W", short(w), leastPowerW, mostPowerW)
	default:
		r.q.PowerW, r.q.WPerKg = w, wPerKg
	}
	r.power = true
}

func (r *reader) setHeight(m float64) {
	switch {
	case r.height && math.Abs(m-r.q.HeightM) > 0.005:
		r.fault("you give two heights, %s and %s m: ask for one rider at a time", short(r.q.HeightM), short(m))
	case !within(m, leastHeightM, mostHeightM):
		r.fault("a body height of %s m is not from %d to %v m", short(m), leastHeightM, mostHeightM)
	default:
		r.q.HeightM = m
	}
	r.height = true
}

func within(v, low, high float64) bool { return low <= v && v <= high }

// short writes a number with at most two decimals.
func short(v float64) string {
	return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)
}
