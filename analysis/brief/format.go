package brief

import (
	"math"
	"strconv"

	"parcours.example/analysis/wording"
)

// format turns every number of the text into words and a fact.
type format struct{ imperial bool }

const (
	metresPerMile = 1609.344
	metresPerFoot = 0.3048
	kgPerPound    = 0.45359237
	// feetUpToM is where short lengths change from feet to miles.
	feetUpToM = 300
)

// number is a fact with its text.
func number(name string, value float64, text string) phrase {
	return phrase{text, text, []Fact{{name, value, text}}}
}

// length writes a distance: kilometres to one decimal, below 1 km metres to ten,
// below 10 m to one; or miles to one decimal, below a mile to two, short ones in
// feet.
func (f format) length(name string, m float64) phrase {
	return number(name, m, f.lengthText(m))
}

func (f format) lengthText(m float64) string {
	switch miles := m / metresPerMile; {
	case f.imperial && m < feetUpToM:
		return shortText(m/metresPerFoot) + " ft"
	case f.imperial && miles < 0.995:
		return wording.Rounded(miles, 2) + " miles"
	case f.imperial:
		return f.bare(m) + " miles"
	case m < 995-5e-7:
		return shortText(m) + " m"
	}
	return f.bare(m) + " km"
}

// shortText rounds to ten, below ten to one.
func shortText(v float64) string {
	if v < 9.5 {
		return wording.Rounded(v, 0)
	}
	return wording.Rounded(math.Round(math.Round(v*1e6)/1e7)*10, 0)
}

// bare writes a distance in the long unit, without the unit.
func (f format) bare(m float64) string {
	if f.imperial {
		return wording.Rounded(m/metresPerMile, 1)
	}
	return wording.Rounded(m/1000, 1)
}

// window writes a short exact length, as windows and approaches have.
func (f format) window(name string, m float64) phrase {
	if f.imperial {
		return number(name, m, wording.Rounded(m/metresPerFoot, 0)+" ft")
	}
	return number(name, m, wording.Rounded(m, 0)+" m")
}

// height writes a rise, a fall or an elevation to the metre or foot.
func (f format) height(name string, m float64) phrase { return f.window(name, m) }

// elevation writes a height above or below the sea.
func (f format) elevation(name string, m float64) phrase {
	switch {
	case f.counts(m):
		return f.height(name, m)
	case f.counts(-m):
		return say("{} below sea level", number(name, m, f.height("", -m).text))
	}
	return words("sea level")
}

// counts reports whether a height is worth telling: it doesn't round to nothing.
func (f format) counts(m float64) bool { return m >= 0.5 }

// radius writes a bend's radius, a rough figure, to 5 m or 10 ft.
func (f format) radius(name string, m float64) phrase {
	if f.imperial {
		return number(name, m, wording.Rounded(max(math.Round(m/metresPerFoot/10), 1)*10, 0)+" ft")
	}
	return number(name, m, wording.Rounded(max(math.Round(m/5), 1)*5, 0)+" m")
}

// gradient writes per cent to one decimal.
func (f format) gradient(name string, pct float64) phrase {
	return number(name, pct, wording.Rounded(pct, 1)+" %")
}

// slope writes the size of a gradient in whole per cent, for running words.
func (f format) slope(name string, pct float64) phrase {
	return number(name, pct, wording.Rounded(math.Abs(pct), 0)+" %")
}

// share writes a fraction in whole per cent.
func (f format) share(name string, fraction float64) phrase {
	return number(name, fraction, wording.Rounded(100*fraction, 0)+" %")
}

// speed writes km/h or mph to one decimal.
func (f format) speed(name string, mps float64) phrase {
	if f.imperial {
		return number(name, mps, wording.Rounded(mps*3600/metresPerMile, 1)+" mph")
	}
	return number(name, mps, wording.Rounded(mps*3.6, 1)+" km/h")
}

// power writes whole watts.
func (f format) power(name string, w float64) phrase {
	return number(name, w, wording.Rounded(w, 0)+" W")
}

// mass writes whole kilograms or pounds.
func (f format) mass(name string, kg float64) phrase {
	if f.imperial {
		return number(name, kg, wording.Rounded(kg/kgPerPound, 0)+" lb")
	}
	return number(name, kg, wording.Rounded(kg, 0)+" kg")
}

// clock writes a time as h:mm:ss, below one hour as m:ss.
func (f format) clock(name string, s float64) phrase { return number(name, s, wording.Clock(s)) }

// count writes a number of things, in words up to ten.
func (f format) count(name string, n int) phrase {
	small := [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
	if n < len(small) {
		return number(name, float64(n), small[n])
	}
	return number(name, float64(n), strconv.Itoa(n))
}

// ordinal writes the number of a lap or a climb.
func (f format) ordinal(name string, n int) phrase { return number(name, float64(n), strconv.Itoa(n)) }

// longUnit is the unit that bare leaves out.
func (f format) longUnit() string {
	if f.imperial {
		return "miles"
	}
	return "km"
}

// at writes a position with its preposition.
func (f format) at(name string, m float64) phrase {
	if m < atEndM {
		return words("at the start")
	}
	return say("at {}", f.length(name, m))
}

// from writes where a stretch starts.
func (f format) from(name string, m float64) phrase {
	if m < atEndM {
		return words("from the start")
	}
	return say("from {}", f.length(name, m))
}

// times writes how often something is ridden.
func (f format) times(name string, n int) phrase {
	switch n {
	case 1:
		return number(name, 1, "once")
	case 2:
		return number(name, 2, "twice")
	}
	return say("{} times", f.count(name, n))
}

// plural returns a noun of ours for a number of things.
func plural(noun string, n int) phrase {
	if n == 1 {
		return words(noun)
	}
	return words(noun + "s")
}
