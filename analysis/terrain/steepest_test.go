package terrain

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/course"
)

func TestSteepestIsTheSteepest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProfile(t)
		for _, w := range windowsM() {
			got, ok := steepest(p, w)
			if ok != (w <= p.lengthM()+indifferenceM) {
				t.Fatalf("%g m on %g m: %v", w, p.lengthM(), ok)
			}
			if !ok {
				continue
			}
			if g := 100 * p.gradient(got.StartM, got.StartM+w); math.Abs(g-got.GradientPct) > 1e-6 {
				t.Fatalf("%+v has %g %%", got, g)
			}
			// All candidates, and places in between.
			for i, s := range p.s {
				mid := s + 0.37*(p.s[min(i+1, len(p.s)-1)]-s)
				for _, start := range []float64{s, s - w, mid} {
					if start < 0 || start+w > p.endM() {
						continue
					}
					if g := 100 * p.gradient(start, start+w); g > got.GradientPct+1e-6 {
						t.Fatalf("%g m from %g has %g %%, reported is %+v", w, start, g, got)
					}
				}
			}
		}
	})
}

func TestSteepestOfAPitch(t *testing.T) {
	p := ramps(0, ramp{1000, 0}, ramp{40, 16}, ramp{1000, 0})
	got := steepestWindows(p)
	want := []float64{16, 12.8, 6.4, 3.2, 1.28, 0.64}
	if len(got) != len(want) {
		t.Fatalf("got %+v", got)
	}
	for i := range want {
		if math.Abs(got[i].GradientPct-want[i]) > 1e-9 {
			t.Errorf("%g m: got %g, want %g", got[i].WindowM, got[i].GradientPct, want[i])
		}
	}
	if got[0].StartM != 1000 {
		t.Errorf("of the equally steep the first: got %g", got[0].StartM)
	}
}

func TestMaxWindow(t *testing.T) {
	for _, tc := range []struct {
		quality course.Quality
		want    float64
	}{
		{course.Quality{}, 25},
		{course.Quality{SpacingM: 10, MedianStepM: 8}, 25},
		{course.Quality{SpacingM: 10, MedianStepM: 60}, 60},
		{course.Quality{SpacingM: 100, MedianStepM: 8}, 100},
		{course.Quality{SpacingM: 10, MedianStepM: math.NaN()}, 25},
	} {
		if got := maxWindowM(tc.quality); got != tc.want {
			t.Errorf("%+v: got %g, want %g", tc.quality, got, tc.want)
		}
	}
}
