package field

import (
	"fmt"
	"math"
)

// matrix returns the correlations of all with all.
func (c Correlations) matrix() [quantities][quantities]float64 {
	return [...][quantities]float64{
		mass:      {1, c.MassWPerKg, c.MassWPrime, c.MassMax},
		wPerKg:    {c.MassWPerKg, 1, c.WPerKgWPrime, c.WPerKgMax},
		wPrime:    {c.MassWPrime, c.WPerKgWPrime, 1, c.WPrimeMax},
		maxWPerKg: {c.MassMax, c.WPerKgMax, c.WPrimeMax, 1},
	}
}

// indefinite is how far below 0 a variance may be by rounding alone.
const indefinite = -1e-9

// root returns the lower triangle L with L·Lᵀ the correlations (Cholesky), which exists
// where they can hold together. A quantity that follows from those before has 0 on the
// diagonal.
func root(c Correlations) (l [quantities][quantities]float64, err error) {
	r, names := c.matrix(), of()
	for i := range quantities {
		for j := range i {
			if !(math.Abs(r[i][j]) <= 1) {
				return l, &Error{"correlations", fmt.Sprintf("The correlation of %s and %s is %v, outside −1…1.", names[j].name, names[i].name, r[i][j])}
			}
			rest := r[i][j]
			for k := range j {
				rest -= float64(l[i][k] * l[j][k])
			}
			switch {
			case l[j][j] > 0:
				l[i][j] = rest / l[j][j]
			case math.Abs(rest) > math.Sqrt(-indefinite):
				return l, together(names[i].name, r[i][:i], names[:i])
			}
		}
		left := 1.0
		for k := range i {
			left -= float64(l[i][k] * l[i][k])
		}
		if left < indefinite {
			return l, together(names[i].name, r[i][:i], names[:i])
		}
		if left > -indefinite {
			l[i][i] = math.Sqrt(left)
		}
	}
	return l, nil
}

// together says that the correlations of a quantity with those before can't all hold.
func together(name string, with []float64, before []quantity) error {
	text := ""
	for i, r := range with {
		separator := ", "
		switch i {
		case 0:
			separator = ""
		case len(with) - 1:
			separator = " and "
		}
		text += fmt.Sprintf("%s%v with %s", separator, r, before[i].name)
	}
	return &Error{"correlations", fmt.Sprintf("The correlations of %s, %s, can't hold together with those among the latter.", name, text)}
}
