package brief

import "parcours.example/analysis/wording"

// format turns every number of the text into words and a fact.
type format struct{ imperial bool }

// number is a fact with its text.
func number(name string, value float64, text string) phrase {
	return phrase{text, text, []Fact{{name, value, text}}}
}

// units are the units that numbers are written in.
func (f format) units() wording.Units { return wording.Units{Imperial: f.imperial} }

// length writes a distance.
func (f format) length(name string, m float64) phrase { return number(name, m, f.units().Length(m)) }

// bare writes a distance in the long unit, without the unit.
func (f format) bare(m float64) string { return f.units().Bare(m) }

// window writes a short exact length, as windows and approaches have.
func (f format) window(name string, m float64) phrase { return f.height(name, m) }

// height writes a rise, a fall or an elevation to the metre or foot.
func (f format) height(name string, m float64) phrase { return number(name, m, f.units().Height(m)) }

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
func (f format) radius(name string, m float64) phrase { return number(name, m, f.units().Radius(m)) }

// gradient writes per cent to one decimal.
func (f format) gradient(name string, pct float64) phrase {
	return number(name, pct, wording.Gradient(pct))
}

// slope writes the size of a gradient in whole per cent, for running words.
func (f format) slope(name string, pct float64) phrase {
	return number(name, pct, wording.Slope(pct))
}

// share writes a fraction in whole per cent.
func (f format) share(name string, fraction float64) phrase {
	return number(name, fraction, wording.Percent(fraction))
}

// speed writes km/h or mph to one decimal.
func (f format) speed(name string, mps float64) phrase {
	return number(name, mps, f.units().Speed(mps))
}

// power writes whole watts.
func (f format) power(name string, w float64) phrase { return number(name, w, wording.Watts(w)) }

// mass writes whole kilograms or pounds.
func (f format) mass(name string, kg float64) phrase { return number(name, kg, f.units().Mass(kg)) }

// clock writes a time as h:mm:ss, below one hour as m:ss.
func (f format) clock(name string, s float64) phrase { return number(name, s, wording.Clock(s)) }

// count writes a number of things, in words up to ten.
func (f format) count(name string, n int) phrase { return number(name, float64(n), wording.Small(n)) }

// ordinal writes the number of a lap or a climb, or a count that is no word.
func (f format) ordinal(name string, n int) phrase { return number(name, float64(n), wording.Count(n)) }

// longUnit is the unit that bare leaves out.
func (f format) longUnit() string { return f.units().Long() }

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
