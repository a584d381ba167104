package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Numbers as people read them, in the service's manner: a test holds these against
// analysis/wording, which a client may not import.

// absent stands in tables for what there isn't.
const absent = "–"

// rounded writes a number to a count of decimals, halves away from zero.
func rounded(v float64, decimals int) string {
	v = math.Round(v*1e6) / 1e6
	scale := math.Pow10(decimals)
	return strconv.FormatFloat(math.Round(v*scale)/scale+0, 'f', decimals, 64)
}

// signed is rounded with a minus that is as wide as a figure.
func signed(v float64, decimals int) string {
	return strings.Replace(rounded(v, decimals), "-", "−", 1)
}

// number writes a number to at most so many decimals: 4, 2.5.
func number(v float64, decimals int) string {
	text := rounded(v, decimals)
	if decimals > 0 {
		text = strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
	}
	return text
}

// clock writes a time in s as h:mm:ss, below one hour as m:ss.
func clock(s float64) string {
	t := int(math.Round(math.Round(s*1e6) / 1e6))
	if t < 3600 {
		return fmt.Sprintf("%d:%02d", t/60, t%60)
	}
	return fmt.Sprintf("%d:%02d:%02d", t/3600, t/60%60, t%60)
}

// gap writes a difference of times with its sign: below 10 s to a tenth, else as a clock.
func gap(s float64) string {
	sign := "+"
	if s < 0 {
		sign = "−"
	}
	switch s = math.Abs(s); {
	case s < 0.05-5e-7:
		return "0"
	case s < 9.95-5e-7:
		return sign + rounded(s, 1) + " s"
	case s < 59.5-5e-7:
		return sign + rounded(s, 0) + " s"
	}
	return sign + clock(s)
}

// chance writes a probability in whole per cent; one that is neither 0 nor 1 isn't written as
// such.
func chance(p float64) string {
	switch {
	case p > 0 && p < 0.005:
		return "<1"
	case p < 1 && p >= 0.995:
		return ">99"
	}
	return rounded(100*p, 0)
}

// kilojoules writes a work or a balance in J as kJ.
func kilojoules(j float64) string { return signed(j/1000, 1) }

// optional writes what may be absent.
func optional(v *float64, write func(float64) string) string {
	if v == nil {
		return absent
	}
	return write(*v)
}

// to returns a writer of so many decimals.
func to(decimals int) func(float64) string {
	return func(v float64) string { return signed(v, decimals) }
}

// text is what may be absent, "" then.
func text[T ~string](s *T) string {
	if s == nil {
		return ""
	}
	return string(*s)
}

// units are the units that people read.
type units struct{ imperial bool }

// The mile and the foot in metres (International yard and pound agreement, 1959).
const (
	metresPerMile = 1609.344
	metresPerFoot = 0.3048
)

func (u units) of(metric, imperial string) string {
	if u.imperial {
		return imperial
	}
	return metric
}

// long and short name the units of lengths, speed that of speeds.
func (u units) long() string  { return u.of("km", "miles") }
func (u units) short() string { return u.of("m", "ft") }
func (u units) speed() string { return u.of("km/h", "mph") }

// name is the word of the contract for the units.
func (u units) name() string { return u.of("metric", "imperial") }

func (u units) longM() float64 {
	if u.imperial {
		return metresPerMile
	}
	return 1000
}

// length writes a length in the long unit to a tenth, position a place along a course to a
// hundredth.
func (u units) length(m float64) string   { return rounded(m/u.longM(), 1) }
func (u units) position(m float64) string { return rounded(m/u.longM(), 2) }

// height writes a height in whole metres or feet.
func (u units) height(m float64) string {
	if u.imperial {
		m /= metresPerFoot
	}
	return signed(m, 0)
}

// pace writes a speed to a tenth of km/h or mph.
func (u units) pace(mps float64) string { return rounded(mps*3600/u.longM(), 1) }
