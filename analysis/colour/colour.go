// Package colour holds the colours of pictures: one map from gradients to colours in
// three variants, and the inks that go with each.
//
// The map is a sequence of steps of equal size in OKLab (Björn Ottosson, "A perceptual
// colour space for image processing", 2020), chosen for Parcours. From one step to the
// next the lightness always changes in the same direction, so the order shows without
// any hue too: to colour-blind eyes, and in grey.
package colour

import (
	"fmt"
	"math"

	"parcours.example/analysis/elementary"
)

// RGB is a colour of the sRGB space (IEC 61966-2-1), 8 bits a channel.
type RGB struct{ R, G, B uint8 }

// Hex returns the colour as "#rrggbb".
func (c RGB) Hex() string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

// RGBA makes it a colour of the standard library's images: 16 bits a channel, opaque.
func (c RGB) RGBA() (r, g, b, a uint32) {
	const widened = 0x101 // from 8 bits to 16
	return widened * uint32(c.R), widened * uint32(c.G), widened * uint32(c.B), 0xffff
}

// FromOKLCH returns the colour of a lightness (0…1), a chroma (0 grey, to about 0.3) and
// a hue in degrees of OKLab in polar form. What sRGB can't show is cut channel by channel.
func FromOKLCH(lightness, chroma, hueDeg float64) RGB {
	sin, cos := elementary.Sincos(hueDeg * math.Pi / 180)
	a, b := float64(chroma*cos), float64(chroma*sin)
	l := cube(lightness + float64(0.3963377774*a) + float64(0.2158037573*b))
	m := cube(lightness - float64(0.1055613458*a) - float64(0.0638541728*b))
	s := cube(lightness - float64(0.0894841775*a) - float64(1.2914855480*b))
	return RGB{
		encoded(float64(4.0767416621*l) - float64(3.3077115913*m) + float64(0.2309699292*s)),
		encoded(float64(-1.2684380046*l) + float64(2.6097574011*m) - float64(0.3413193965*s)),
		encoded(float64(-0.0041960863*l) - float64(0.7034186147*m) + float64(1.7076147010*s)),
	}
}

func cube(x float64) float64 { return x * x * x }

// encoded returns the sRGB channel of a linear one, 0…1 (IEC 61966-2-1).
func encoded(linear float64) uint8 {
	v := min(max(linear, 0), 1)
	if v <= 0.0031308 {
		v *= 12.92
	} else {
		v = float64(1.055*elementary.Pow(v, 1/2.4)) - 0.055
	}
	return uint8(math.Round(255 * v))
}

// Luminance returns the relative luminance, 0 (black) … 1 (white), as WCAG 2.2 defines it.
func (c RGB) Luminance() float64 {
	return float64(0.2126*linear(c.R)) + float64(0.7152*linear(c.G)) + float64(0.0722*linear(c.B))
}

// linear undoes encoded.
func linear(channel uint8) float64 {
	v := float64(channel) / 255
	if v <= 0.04045 {
		return v / 12.92
	}
	return elementary.Pow((v+0.055)/1.055, 2.4)
}

// Contrast returns the contrast ratio of two colours, 1…21 (WCAG 2.2). Text needs 4.5
// (success criterion 1.4.3), what else one has to see 3 (1.4.11).
func Contrast(a, b RGB) float64 {
	x, y := a.Luminance(), b.Luminance()
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}
