package colour

import "sort"

// Theme is a variant of the colours.
type Theme string

// The themes: on white, on near-black, and in greys for a printer without colour.
const (
	Light Theme = "light"
	Dark  Theme = "dark"
	Print Theme = "print"
)

// StepCount is the number of steps of gradient that colours tell apart.
const StepCount = 7

// LineCount is the number of lines that inks tell apart.
const LineCount = 4

// Palette is what a picture is drawn with.
type Palette struct {
	// Paper lies below everything, Band below every other lap.
	Paper, Band RGB
	// Ink is for text and lines that matter, Muted for text and lines beside them. Both
	// are legible on Paper and Band.
	Ink, Muted RGB
	// Faint is for lines that only guide the eye.
	Faint RGB
	// Mark is for places; it stands out from Paper and Band.
	Mark RGB
	// Steps are the colours of gradients, from descents to the steepest climbs.
	Steps [StepCount]RGB
	// Lines are the inks of lines that are to be told apart, and stand out from Paper and
	// Band. They differ in lightness too; a picture gives each a pattern of its own as well.
	Lines [LineCount]RGB
}

// StepEdgesPct returns the gradients in per cent at which one step ends and the next
// begins, rising. They are among those of the lengths by gradient that a course is
// answered with.
func StepEdgesPct() []float64 { return []float64{-1, 1, 3, 6, 10, 15} }

// Step returns the step of a gradient in per cent, 0…StepCount−1.
func Step(gradientPct float64) int {
	edges := StepEdgesPct()
	return sort.Search(len(edges), func(i int) bool { return gradientPct < edges[i] })
}

// lch is a colour of OKLab in polar form.
type lch struct{ l, c, h float64 }

func (x lch) rgb() RGB { return FromOKLCH(x.l, x.c, x.h) }

// Palette returns the colours of a theme; those of Light for one that doesn't exist.
func (t Theme) Palette() Palette {
	switch t {
	case Dark:
		return darkPalette()
	case Print:
		return printPalette()
	}
	return lightPalette()
}

// The steps run from pale water over sand and clay to deep violet. Their lightness is
// such that neighbours lie equally far apart, 0.130 in Light and 0.120 in Dark.

func lightPalette() Palette {
	return Palette{
		Paper: RGB{255, 255, 255}, Band: lch{0.965, 0.008, 250}.rgb(),
		Ink: lch{0.25, 0.02, 260}.rgb(), Muted: lch{0.47, 0.02, 260}.rgb(), Faint: lch{0.88, 0.01, 260}.rgb(),
		Mark: lch{0.45, 0.11, 240}.rgb(),
		Steps: steps(lch{0.950, 0.028, 215}, lch{0.829, 0.030, 110}, lch{0.708, 0.075, 85}, lch{0.593, 0.115, 58},
			lch{0.486, 0.145, 28}, lch{0.393, 0.150, 352}, lch{0.300, 0.125, 315}),
		Lines: lines(lch{0.240, 0.080, 250}, lch{0.520, 0.150, 70}, lch{0.450, 0.150, 330}, lch{0.610, 0.100, 170}),
	}
}

// darkPalette keeps the hues and turns the lightness round, so that what is steep stands
// out from the paper here too.
func darkPalette() Palette {
	return Palette{
		Paper: lch{0.19, 0.012, 260}.rgb(), Band: lch{0.235, 0.018, 260}.rgb(),
		Ink: lch{0.94, 0.008, 260}.rgb(), Muted: lch{0.73, 0.015, 260}.rgb(), Faint: lch{0.34, 0.015, 260}.rgb(),
		Mark: lch{0.80, 0.10, 220}.rgb(),
		Steps: steps(lch{0.310, 0.050, 240}, lch{0.422, 0.025, 180}, lch{0.522, 0.060, 85}, lch{0.629, 0.100, 58},
			lch{0.732, 0.125, 28}, lch{0.826, 0.095, 352}, lch{0.925, 0.050, 315}),
		Lines: lines(lch{0.930, 0.030, 260}, lch{0.660, 0.140, 45}, lch{0.550, 0.160, 330}, lch{0.780, 0.120, 160}),
	}
}

func printPalette() Palette {
	return Palette{
		Paper: RGB{255, 255, 255}, Band: lch{l: 0.965}.rgb(),
		Ink: lch{l: 0.15}.rgb(), Muted: lch{l: 0.45}.rgb(), Faint: lch{l: 0.87}.rgb(),
		Mark:  lch{l: 0.15}.rgb(),
		Steps: steps(lch{l: 0.96}, lch{l: 0.85}, lch{l: 0.74}, lch{l: 0.63}, lch{l: 0.52}, lch{l: 0.41}, lch{l: 0.30}),
		Lines: lines(lch{l: 0.15}, lch{l: 0.50}, lch{l: 0.33}, lch{l: 0.62}),
	}
}

func lines(of ...lch) (rgb [LineCount]RGB) {
	for i := range rgb {
		rgb[i] = of[i].rgb()
	}
	return rgb
}

func steps(of ...lch) (rgb [StepCount]RGB) {
	for i := range rgb {
		rgb[i] = of[i].rgb()
	}
	return rgb
}
