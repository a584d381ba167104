package brief

import (
	"math"
	"strings"
	"testing"
)

func TestBandsOfTimes(t *testing.T) {
	for name, c := range map[string]struct {
		lowS, highS, coveragePct float64
		want                     string
	}{
		"both ends":      {5400, 5700, 90, "With 90 % certainty between 1:30:00 and 1:35:00; the largest doubt is the wind."},
		"half a per mil": {5400, 5700, 99.9, "With 99.9 % certainty between 1:30:00 and 1:35:00; the largest doubt is the wind."},
		"no slow end":    {5400, math.NaN(), 90, "With 95 % certainty 1:30:00 or slower, perhaps to a halt; the largest doubt is the wind."},
		"no fast end":    {math.NaN(), 5700, 90, ""},
		"no width":       {5400, 5400.1, 90, ""},
	} {
		in := hilltop()
		in.Rides[0].Band = doubtful(c.lowS, c.highS, "wind_mps")
		in.Rides[0].Band.CoveragePct = c.coveragePct
		told := section(Write(in), "Predicted times")[0]
		if got := strings.Contains(told, "certainty"); !strings.Contains(told, c.want) || got != (c.want != "") {
			t.Errorf("%s: %q", name, told)
		}
	}
}
