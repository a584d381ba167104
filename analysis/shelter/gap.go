package shelter

// The correction for drafting of Olds 1998 (Eur. J. Appl. Physiol. 77:492–497; the equation
// from memory): 0.62 − 0.0104·d + 0.0452·d² at a gap of d metres, up to 3 m. Its least value
// is at 0.115 m. The terms are those of the square completed.
const (
	oldsSquare = 0.0452
	closeM     = 0.0104 / (2 * oldsSquare)
	openM      = 3
	nearestLee = 1 - (0.62 - oldsSquare*closeM*closeM)
)

// Gap returns the drag of the second of two riders over the drag alone, at a gap between
// the wheels in metres: 0.619 up to 0.115 m, rising to 1 at 3 m and beyond. It is the
// polynomial of Olds 1998 made monotone, by leaving out its rise by 0.0006 towards 0 m, and
// continuous, by stretching it by 1.2 % so that it meets 1 at 3 m, where it is 0.996.
// Wheels that overlap have gaps below 0.
func Gap(m float64) float64 { return 1 - float64(nearestLee*lee(m)) }

// lee returns the share of the lee at close riding that a gap in metres leaves, 0…1.
func lee(gapM float64) float64 {
	const perM = 1 / (openM - closeM)
	switch {
	case gapM <= closeM:
		return 1
	case gapM >= openM:
		return 0
	}
	x := float64((gapM - closeM) * perM)
	return 1 - float64(x*x)
}
