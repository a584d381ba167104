package colour

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

func themes() []Theme { return []Theme{Light, Dark, Print} }

// okLab is the inverse of FromOKLCH in rectangular form.
func okLab(c RGB) [3]float64 {
	r, g, b := linear(c.R), linear(c.G), linear(c.B)
	l := math.Cbrt(0.4122214708*r + 0.5363325363*g + 0.0514459929*b)
	m := math.Cbrt(0.2119034982*r + 0.6806995451*g + 0.1073969566*b)
	s := math.Cbrt(0.0883024619*r + 0.2817188376*g + 0.6299787005*b)
	return [3]float64{
		0.2104542553*l + 0.7936177850*m - 0.0040720468*s,
		1.9779984951*l - 2.4285922050*m + 0.4505937099*s,
		0.0259040371*l + 0.7827717662*m - 0.8086757660*s,
	}
}

func distance(a, b [3]float64) float64 {
	return math.Sqrt((a[0]-b[0])*(a[0]-b[0]) + (a[1]-b[1])*(a[1]-b[1]) + (a[2]-b[2])*(a[2]-b[2]))
}

func TestColoursComeOutAsAsked(t *testing.T) {
	for _, x := range []lch{{0.708, 0.075, 85}, {0.3, 0.125, 315}, {0.95, 0.028, 215}, {0.5, 0, 0}} {
		sin, cos := math.Sincos(x.h * math.Pi / 180)
		if d := distance(okLab(x.rgb()), [3]float64{x.l, x.c * cos, x.c * sin}); d > 0.005 {
			t.Errorf("%v came out as %s, %.4f away", x, x.rgb().Hex(), d)
		}
	}
}

func TestStepsAreOfEqualSize(t *testing.T) {
	for theme, want := range map[Theme]float64{Light: 0.130, Dark: 0.120, Print: 0.110} {
		steps := theme.Palette().Steps
		for i := 1; i < StepCount; i++ {
			if d := distance(okLab(steps[i-1]), okLab(steps[i])); math.Abs(d-want) > 0.006 {
				t.Errorf("%s: from step %d to %d it is %.3f in OKLab, want %.3f", theme, i-1, i, d, want)
			}
		}
	}
}

func TestEveryPairOfInkAndPaperIsLegible(t *testing.T) {
	for _, theme := range themes() {
		p := theme.Palette()
		for _, paper := range []RGB{p.Paper, p.Band} {
			type pair struct {
				ink   RGB
				least float64
			}
			pairs := map[string]pair{"ink": {p.Ink, 4.5}, "muted": {p.Muted, 4.5}, "mark": {p.Mark, 3}}
			for i, line := range p.Lines {
				pairs[fmt.Sprintf("line %d", i)] = pair{line, 3}
			}
			for name, c := range pairs {
				if got := Contrast(c.ink, paper); got < c.least {
					t.Errorf("%s: %s on %s has a contrast of %.2f, want %.1f", theme, name, paper.Hex(), got, c.least)
				}
			}
		}
	}
}

func TestStepTakesEdgesUpwards(t *testing.T) {
	for pct, want := range map[float64]int{-20: 0, -1.01: 0, -1: 1, 0: 1, 1: 2, 2.99: 2, 3: 3, 6: 4, 10: 5, 14.9: 5, 15: 6, 40: 6} {
		if got := Step(pct); got != want {
			t.Errorf("%v %% is of step %d, want %d", pct, got, want)
		}
	}
	if n := len(StepEdgesPct()); n != StepCount-1 || !slices.IsSorted(StepEdgesPct()) {
		t.Errorf("%d edges for %d steps", n, StepCount)
	}
}
