package track

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// maxElevation bounds an elevation either way, in metres; every road is inside.
const maxElevation = 9000

// parseElevation returns the elevation in metres that a text gives, NaN for none.
// The code, where not empty, is that of a warning, with its detail.
func parseElevation(text string) (m float64, code, detail string) {
	text = strings.TrimSpace(text)
	if text == "" {
		return math.NaN(), "", ""
	}
	v, ok := parseDecimal(text)
	if !ok && strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
		if v, ok = parseDecimal(strings.Replace(text, ",", ".", 1)); ok {
			code, detail = "decimal-comma", fmt.Sprintf("The elevation %q was read with a decimal comma, as %g m.", clean(text, 40), v)
		}
	}
	switch {
	case !ok:
		return math.NaN(), "elevation-unreadable", fmt.Sprintf("The elevation %q is not a number of metres and was left out.", clean(text, 40))
	case !(math.Abs(v) <= maxElevation):
		return math.NaN(), "elevation-out-of-range", fmt.Sprintf("The elevation %q is beyond ±%d m and was left out.", clean(text, 40), maxElevation)
	}
	return v, code, detail
}

// parseDegrees returns the latitude or longitude that a text gives, which must be
// within ±limit. The fault, where not empty, completes "The latitude …".
func parseDegrees(text string, limit float64) (deg float64, fault string) {
	text = strings.TrimSpace(text)
	v, ok := parseDecimal(text)
	switch {
	case !ok:
		return 0, fmt.Sprintf("%q is not a decimal number; write degrees with a point, like 45.9237.", clean(text, 40))
	case !(math.Abs(v) <= limit):
		return 0, fmt.Sprintf("%q is beyond ±%g degrees; correct or remove the point.", clean(text, 40), limit)
	}
	return v, ""
}

// maxNumber is how many bytes a number may have.
const maxNumber = 64

// parseDecimal returns the number that s writes as an optional sign, digits with
// at most one point, and an optional exponent; ±Inf where that is too large.
// Hexadecimal, underscores and words are no numbers here. Exponents are: common
// writers use them for longitudes near Greenwich.
func parseDecimal(s string) (v float64, ok bool) {
	if len(s) > maxNumber {
		return 0, false
	}
	for i := range len(s) {
		switch c := s[i]; {
		case '0' <= c && c <= '9', c == '+', c == '-', c == '.', c == 'e', c == 'E':
		default:
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil || math.IsInf(v, 0)
}
