package track

import (
	"fmt"
	"math"
)

// finished returns the rows as a line, in metres.
func (t *table) finished() (line, error) {
	if len(t.rec.points) < 2 {
		return line{}, &Error{Code: CodeNoLine, Detail: fmt.Sprintf(
			"The table has %s below its header; a course needs at least two.", counted(len(t.rec.points), "row"))}
	}
	if t.row > 2 && t.named == t.row {
		t.title, t.rec.named = t.rec.named[0].Name, nil
	}
	if t.placed() {
		return t.rec.line(&t.notes), nil
	}
	unit := t.distanceUnit()
	for i := range t.rec.distanceM {
		t.rec.distanceM[i] *= unit
	}
	for i := range t.rec.named {
		t.rec.named[i].AtM *= unit
	}
	if t.byGradient() {
		if err := t.sumGradients(); err != nil {
			return line{}, err
		}
	}
	return line{
		id: tableLine, points: t.rec.points, distanceM: t.rec.distanceM,
		named: t.rec.settledMarks(true, &t.notes),
	}, nil
}

// A table without a unit that is shorter than shortTable may be in kilometres; in metres,
// its rises and falls must not be more than steepestTable of its length.
const (
	shortTable    = 500
	steepestTable = 0.3
)

// distanceUnit returns the metres of the distances' unit. Where neither the header nor a
// cell says it, it is the metre, unless the whole table is shorter than 500 and either
// its rises and falls would be more than 30 % of its length in metres, which no road
// has, or it has no rises and falls to tell by and some distance is not a whole number.
// A table shorter than 500 gives a warning either way.
func (t *table) distanceUnit() float64 {
	if u := t.columns[distanceColumn].unit; u != 0 {
		return u
	}
	s := t.rec.distanceM
	if len(s) < 2 || s[len(s)-1]-s[0] >= shortTable {
		return 1
	}
	length := s[len(s)-1] - s[0]
	climbing := riseAndFall(t.rec.points)
	if climbing > steepestTable*length || climbing == 0 && !whole(s) {
		t.notes.addFile("unit-assumed", fmt.Sprintf(
			"The header does not say the unit of the distances; they were read as kilometres, because in metres the whole course would be %.4g m long. Write distance_km or distance_m to be sure.", length))
		return 1000
	}
	t.notes.addFile("unit-assumed", fmt.Sprintf(
		"The header does not say the unit of the distances; they were read as metres, which makes the course no longer than %.4g m. Write distance_km or distance_m to be sure.", length))
	return 1
}

// riseAndFall returns the sum of all rises and falls in metres.
func riseAndFall(points []Point) float64 {
	sum, last := 0.0, math.NaN()
	for _, p := range points {
		if math.IsNaN(p.Elevation) {
			continue
		}
		if !math.IsNaN(last) {
			sum += math.Abs(p.Elevation - last)
		}
		last = p.Elevation
	}
	return sum
}

func whole(s []float64) bool {
	for _, v := range s {
		if v != math.Trunc(v) {
			return false
		}
	}
	return true
}

// A table of gradients whose column has no unit is read as metres per metre if none is
// above smallGradient, in percent: no course is that flat, and none that steep.
const smallGradient = 0.5

// sumGradients makes elevations of gradients: z grows by gradient times distance from one
// row to the next.
func (t *table) sumGradients() error {
	unit := t.columns[gradientColumn].unit
	if unit == 0 {
		unit = 1
		steepest := 0.0
		for _, g := range t.gradient {
			steepest = max(steepest, math.Abs(g))
		}
		if 0 < steepest && steepest <= smallGradient {
			unit = 100
			t.notes.addFile("gradient-unit-assumed", "No gradient is above 0.5; they were read as metres per metre, not as percent. Write gradient_pct if they are percent.")
		}
	}
	z := 0.0
	for i := range t.rec.points {
		if i > 0 {
			z += float64(t.gradient[i-1] * unit / 100 * (t.rec.distanceM[i] - t.rec.distanceM[i-1]))
		}
		if !(math.Abs(z) <= maxElevation) {
			return &Error{Code: CodeOutOfRange, Point: i + 1, Detail: "The gradients add up to more than 9,000 m of elevation here; check the units of distance and gradient."}
		}
		t.rec.points[i].Elevation = z
	}
	t.notes.addFile("elevation-from-gradient", "The elevations were summed from the gradients, from 0 m at the start; heights above sea level are not known.")
	return nil
}
