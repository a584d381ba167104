package course

import (
	"math"
	"slices"
)

// Elevations taken from a coarse model without interpolation stay the same within a
// cell and jump at its edge. Of all pairs of neighbouring samples terraceEqual are then
// equal, and of the changes terraceAlone stand between equal pairs; there are
// terraceLeast changes or more, larger than rounding makes them.
const (
	terraceEqual = 0.5
	terraceAlone = 0.6
	terraceLeast = 10
)

// thinTerraces keeps of each cell's samples the middle one: the model's elevation is
// that of the cell's middle.
func (m *mending) thinTerraces() {
	cell := m.terraceM()
	if cell == 0 {
		return
	}
	m.tell("elevation-terraced", math.NaN(), "; only the middle of each is used", "the elevations stay the same over some %.0f m and then jump, as those of a coarse terrain model do: shorter pitches are not in them", cell)
	n := len(m.z)
	for i := 0; i < n; {
		end := m.runEnd(i)
		middle := (i + end - 1) / 2
		switch {
		case i == 0:
			middle = 0
		case end == n:
			middle = n - 1
		}
		z := m.z[middle]
		m.forget(i, end)
		m.z[middle] = z
		i = end
	}
	m.compact()
	m.measureNoise()
}

// terraceM returns the median length in metres of the runs of equal elevations where
// they are cells of a coarse model, else 0.
func (m *mending) terraceM() float64 {
	equal, alone := 0, 0
	var changes, lengths []float64
	for i := 0; i < len(m.z); {
		end := m.runEnd(i)
		equal += end - i - 1
		if end < len(m.z) {
			changes = append(changes, math.Abs(m.z[end]-m.z[i]))
			lengths = append(lengths, m.s[end]-m.s[i])
			if end-i > 1 && end+1 < len(m.z) && m.z[end+1] == m.z[end] {
				alone++
			}
		}
		i = end
	}
	if alone < terraceLeast || float64(alone) < terraceAlone*float64(len(changes)) || float64(equal) < terraceEqual*float64(len(m.z)) {
		return 0
	}
	slices.Sort(changes)
	slices.Sort(lengths)
	if changes[len(changes)/2] < max(1.5*m.step, leastTerraceM) {
		return 0
	}
	return lengths[len(lengths)/2]
}

// leastTerraceM is the least median change from cell to cell in metres: smaller ones do
// no harm.
const leastTerraceM = 0.5
