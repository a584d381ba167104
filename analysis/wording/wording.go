// Package wording writes numbers as people read them. What a text says and what a picture
// or a table says beside it come from here, so that they agree. Functions write metric
// units, the methods of Units either.
package wording

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Rounded writes a number to a count of decimals, halves away from zero. The value is
// first brought to 10⁻⁶, so that two builds whose last bits differ agree on halves, and
// is never −0.
func Rounded(v float64, decimals int) string {
	v = math.Round(v*1e6) / 1e6
	scale := math.Pow10(decimals)
	return strconv.FormatFloat(math.Round(v*scale)/scale+0, 'f', decimals, 64)
}

// Number writes a number to at most so many decimals, without noughts at its end: 4, 2.5.
func Number(v float64, decimals int) string {
	text := Rounded(v, decimals)
	if decimals > 0 {
		text = strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
	}
	return text
}

// Metres writes a length: to ten metres, from 1 km on to a tenth of one.
func Metres(m float64) string {
	if m < 995 {
		return Rounded(max(math.Round(m/10), 1)*10, 0) + " m"
	}
	return Rounded(m/1000, 1) + " km"
}

// Position writes a place along the course, in km to ten metres.
func Position(m float64) string { return Rounded(math.Round(m/10)/100, 2) + " km" }

// Kilojoules writes a work or a balance in J as kJ.
func Kilojoules(j float64) string { return Rounded(j/1000, 1) + " kJ" }

// Speed writes a speed in m/s as whole km/h.
func Speed(mps float64) string { return Rounded(mps*3.6, 0) + " km/h" }

// SpeedChange writes a difference of speeds in m/s as km/h to a tenth. The sign is left to
// the words around it.
func SpeedChange(mps float64) string { return Rounded(math.Abs(mps)*3.6, 1) + " km/h" }

// Seconds writes a difference of times: below 10 s to a tenth, below a minute in whole
// seconds, else as a clock. The sign is left to the words around it.
func Seconds(s float64) string {
	switch s = math.Abs(s); {
	case s < 9.95-5e-7:
		return Rounded(s, 1) + " s"
	case s < 59.5-5e-7:
		return Rounded(s, 0) + " s"
	}
	return Clock(s)
}

// Hundredths writes a short difference of times to a hundredth of a second. The sign is
// left to the words around it.
func Hundredths(s float64) string { return Rounded(math.Abs(s), 2) + " s" }

// ShortLength writes a length of a few metres to a tenth of one. The sign is left to the
// words around it.
func ShortLength(m float64) string { return Rounded(math.Abs(m), 1) + " m" }

// Count writes a whole number, ≥ 0, from 10,000 on in threes.
func Count(n int) string {
	text := strconv.Itoa(n)
	if n < 10_000 {
		return text
	}
	for i := len(text) - 3; i > 0; i -= 3 {
		text = text[:i] + "," + text[i:]
	}
	return text
}

// Clock writes a time in s as h:mm:ss, below one hour as m:ss.
func Clock(s float64) string {
	t := int(math.Round(math.Round(s*1e6) / 1e6))
	if t < 3600 {
		return fmt.Sprintf("%d:%02d", t/60, t%60)
	}
	return fmt.Sprintf("%d:%02d:%02d", t/3600, t/60%60, t%60)
}

// Watts writes a power in whole watts.
func Watts(w float64) string { return Rounded(w, 0) + " W" }

// Kilograms writes a mass to a tenth of a kilogram.
func Kilograms(kg float64) string { return Rounded(kg, 1) + " kg" }

// Percent writes a share in whole per cent.
func Percent(share float64) string { return Rounded(100*share, 0) + " %" }

// Chance writes a probability, 0…1, in whole per cent; one that is neither 0 nor 1 is not
// written as such.
func Chance(p float64) string {
	switch {
	case p > 0 && p < 0.005:
		return "under 1 %"
	case p < 1 && p >= 0.995:
		return "over 99 %"
	}
	return Percent(p)
}

// List sets things as a person lists them: "a, b and c".
func List(things ...string) string {
	last := len(things) - 1
	if last < 1 {
		return strings.Join(things, "")
	}
	return strings.Join(things[:last], ", ") + " and " + things[last]
}

// WattsPerKilogram writes a power over body mass to a hundredth.
func WattsPerKilogram(wPerKg float64) string { return Rounded(wPerKg, 2) + " W/kg" }

// Gradient writes a gradient in per cent to a tenth of a point.
func Gradient(pct float64) string {
	if pct = math.Round(pct*10) / 10; pct < 0 {
		return "−" + Rounded(-pct, 1) + " %"
	}
	return Rounded(pct, 1) + " %"
}

// Slope writes the size of a gradient in whole per cent, for running words that say
// whether it goes up or down.
func Slope(pct float64) string { return Rounded(math.Abs(pct), 0) + " %" }

// Certainty writes a probability in per cent, with a decimal where it has one.
func Certainty(pct float64) string { return Number(pct, 1) + " %" }

// Kilocalories writes an energy in kcal, a rough figure, to ten.
func Kilocalories(kcal float64) string { return Rounded(math.Round(kcal/10)*10, 0) + " kcal" }

// Grams writes an amount of food in g, a rough figure, to five.
func Grams(g float64) string { return Rounded(math.Round(g/5)*5, 0) + " g" }

// Small writes a number of things in words up to ten, from eleven on as Count.
func Small(n int) string {
	small := [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
	if n < len(small) {
		return small[n]
	}
	return Count(n)
}
