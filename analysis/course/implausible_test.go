package course

import (
	"context"
	"testing"
)

func TestImplausibleGradientIsWarnedOf(t *testing.T) {
	opt := Defaults()
	opt.Smoothing = None
	for name, tt := range map[string]struct {
		elevations []float64
		warned     bool
		at         float64
	}{
		"a wall":          {[]float64{100, 100, 145, 145}, true, 100},
		"a cliff down":    {[]float64{100, 55, 55, 55}, true, 0},
		"a steep street":  {[]float64{100, 100, 135, 135}, false, 0},
		"without heights": {nil, false, 0},
	} {
		c, err := FromProfile(context.Background(), []float64{0, 100, 200, 300}, tt.elevations, opt)
		if err != nil {
			t.Fatal(name, err)
		}
		var got []Warning
		for _, w := range c.Quality.Warnings {
			if w.Code == "gradient-implausible" {
				got = append(got, w)
			}
		}
		if len(got) > 1 || (len(got) == 1) != tt.warned || (tt.warned && got[0].AtM != tt.at) {
			t.Errorf("%s: warnings %v", name, got)
		}
	}
}
