package capability

import (
	"fmt"
	"math"
)

func watts(w float64) string { return fmt.Sprintf("%.0f W", w) }

func joules(j float64) string {
	if math.Abs(j) < 10_000 {
		return fmt.Sprintf("%.0f J", j)
	}
	return fmt.Sprintf("%.1f kJ", j/1000)
}

func percent(share float64) string { return fmt.Sprintf("%.1f %%", 100*share) }

// span writes a duration.
func span(s float64) string {
	switch {
	case s < 120:
		return fmt.Sprintf("%.4g s", s)
	case s < 7200:
		return fmt.Sprintf("%.4g min", math.Round(s/6)/10)
	}
	return fmt.Sprintf("%.3g h", s/3600)
}
