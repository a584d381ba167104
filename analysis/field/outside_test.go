package field

import "testing"

// Riders of whom measurements were published are within what riders are, and the strongest
// are far outside of trained amateurs.
func TestMeasuredRidersAreRiders(t *testing.T) {
	bounds := of()
	for _, c := range []struct {
		who      string
		quantity int
		value    float64
		elite    bool
	}{
		// Menaspà et al. 2013, J. Sci. Cycling 2:35–39 (abstract), sprints at the finish.
		{"mass of professionals", mass, 71.8, false},
		{"mass of riders below 23 years", mass, 63.2, false},
		{"their highest mean power", maxWPerKg, 1112 / 63.2, true},
		// Menaspà et al. 2015, Int. J. Sports Med. 36:1058 (abstract).
		{"peak of sprints", maxWPerKg, 17.4 + 2*1.7, true},
		// Bartram et al. 2018, their recovery data: elite men, 393 W, here at 70 kg.
		{"critical power of elite men", wPerKg, 393. / 70, true},
		{"their W′", wPrime, 23_300, true},
		// By level, from memory: untrained and world-class.
		{"untrained", wPerKg, 2, true},
		{"world-class", wPerKg, 6.4, true},
		{"untrained W′", wPrime, 8_000, true},
		{"world-class W′", wPrime, 28_000, true},
		{"untrained maximal power", maxWPerKg, 9, true},
		{"world-class maximal power", maxWPerKg, 22, true},
	} {
		if q := bounds[c.quantity]; c.value < q.least || c.value > q.most {
			t.Errorf("%s, %v %s, are outside %v…%v", c.who, c.value, q.unit, q.least, q.most)
		}
		n := Trained().normals()[c.quantity]
		if z := (c.value - n.Mean) / n.SD; c.elite != (z < -2 || z > 2) {
			t.Errorf("%s is %.1f standard deviations from the trained", c.who, z)
		}
	}
}
