package colour

import (
	"math"
	"testing"
)

// WCAG 2.2 gives 21 for black on white; the other two ratios are those that its
// definition yields by hand: (1.05)/(0.05 + Y) with Y of #777777 0.18448, 4.48; of
// #767676 0.18116, 4.54 (the well-known least grey on white).
func TestContrastOfWCAG(t *testing.T) {
	white := RGB{255, 255, 255}
	for _, c := range []struct {
		a    RGB
		want float64
	}{{RGB{}, 21}, {RGB{0x77, 0x77, 0x77}, 4.48}, {RGB{0x76, 0x76, 0x76}, 4.54}, {white, 1}} {
		if got := Contrast(c.a, white); math.Abs(got-c.want) > 0.005 {
			t.Errorf("%s on white: %.3f, want %.2f", c.a.Hex(), got, c.want)
		}
	}
}

// cieLightness is L* of CIE 15:2004 for the relative luminance, 0…100.
func cieLightness(c RGB) float64 { return lightnessOf(c.Luminance()) }

func lightnessOf(y float64) float64 {
	if y <= 216.0/24389 {
		return y * 24389 / 27
	}
	return 116*math.Cbrt(y) - 16
}

func TestLightnessOfStepsIsMonotone(t *testing.T) {
	const least = 9.0 // in L*; a difference of 1 is just seen side by side
	for theme, sign := range map[Theme]float64{Light: -1, Print: -1, Dark: 1} {
		steps := theme.Palette().Steps
		for i := 1; i < StepCount; i++ {
			if d := sign * (cieLightness(steps[i]) - cieLightness(steps[i-1])); d < least {
				t.Errorf("%s: L* changes by %.1f from step %d to %d, want %.0f", theme, d, i-1, i, least)
			}
		}
	}
}

// Full loss of one kind of cone: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A
// physiologically-based model for simulation of colour vision deficiency", IEEE TVCG 15(6)
// (2009), matrices for severity 1.0 on linear RGB.
func deficiencies() map[string][3][3]float64 {
	return map[string][3][3]float64{
		"protan": {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
		"deutan": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
		"tritan": {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
	}
}

func seenWith(m [3][3]float64, c RGB) RGB {
	in := [3]float64{linear(c.R), linear(c.G), linear(c.B)}
	var out [3]uint8
	for i, row := range m {
		out[i] = encoded(row[0]*in[0] + row[1]*in[1] + row[2]*in[2])
	}
	return RGB{out[0], out[1], out[2]}
}

// cieLab is CIELAB for the white of sRGB (IEC 61966-2-1, D65).
func cieLab(c RGB) [3]float64 {
	r, g, b := linear(c.R), linear(c.G), linear(c.B)
	f := func(y float64) float64 { return (lightnessOf(y) + 16) / 116 }
	x := f((0.4124*r + 0.3576*g + 0.1805*b) / 0.9505)
	y := f(0.2126*r + 0.7152*g + 0.0722*b)
	z := f((0.0193*r + 0.1192*g + 0.9505*b) / 1.089)
	return [3]float64{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

// A difference of 10 in CIELAB (CIE 1976) is about four times what is just seen.
func TestDeficientEyesTellStepsApart(t *testing.T) {
	const least = 10.0
	for _, theme := range themes() {
		steps := theme.Palette().Steps
		for name, m := range deficiencies() {
			for i := range steps {
				for j := range i {
					if d := distance(cieLab(seenWith(m, steps[i])), cieLab(seenWith(m, steps[j]))); d < least {
						t.Errorf("%s, %s: steps %d and %d are %.1f apart, want %.0f", theme, name, j, i, d, least)
					}
				}
			}
		}
	}
}

// Lines are thin, so their inks lie twice as far apart as steps, to normal eyes too, and no
// two are of one lightness; greys differ in nothing else.
func TestDeficientEyesTellLinesApart(t *testing.T) {
	const leastLightness = 8.0
	least := map[Theme]float64{Light: 20, Dark: 20, Print: leastLightness}
	eyes := deficiencies()
	eyes["normal"] = [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	for _, theme := range themes() {
		inks := theme.Palette().Lines
		for i := range inks {
			for j := range i {
				for name, m := range eyes {
					if d := distance(cieLab(seenWith(m, inks[i])), cieLab(seenWith(m, inks[j]))); d < least[theme] {
						t.Errorf("%s, %s: lines %d and %d are %.1f apart, want %.0f", theme, name, j, i, d, least[theme])
					}
				}
				if d := math.Abs(cieLightness(inks[i]) - cieLightness(inks[j])); d < leastLightness {
					t.Errorf("%s: L* of lines %d and %d differs by %.1f, want %.0f", theme, j, i, d, leastLightness)
				}
			}
		}
	}
}
