package engine

import (
	"errors"
	"math"
	"testing"

	"parcours.example/analysis/capability"
)

func efforts(pairs ...[2]float64) []capability.Effort {
	out := make([]capability.Effort, len(pairs))
	for i, p := range pairs {
		out[i] = capability.Effort{DurationS: p[0], PowerW: p[1], Weight: math.NaN()}
	}
	return out
}

func TestFit(t *testing.T) {
	e := newEngine(t, Config{})
	f, err := e.Fit(t.Context(), Efforts{Efforts: efforts([2]float64{180, 350}, [2]float64{720, 280}), PowersW: []float64{200, 350}})
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Curves) != len(f.Fits) || len(f.Held) != len(f.Fits) {
		t.Fatalf("%d fits, %d curves", len(f.Fits), len(f.Curves))
	}
	for _, p := range f.Curves[f.Best] {
		if p.Extrapolated != (p.DurationS < 180 || p.DurationS > 720) || p.DurationS < 120 || !math.IsNaN(p.ErrorW) {
			t.Errorf("%+v", p)
		}
	}
	if held := f.Held[f.Best]; !math.IsInf(held[0].DurationS, 1) || math.Abs(held[1].DurationS-180) > 1e-6 {
		t.Errorf("%+v", held)
	}
}

func TestFitRefuses(t *testing.T) {
	e := newEngine(t, Config{})
	var undetermined *capability.Error
	_, err := e.Fit(t.Context(), Efforts{Efforts: efforts([2]float64{180, 280}, [2]float64{720, 350})})
	if !errors.As(err, &undetermined) || undetermined.Code != capability.CodeUndetermined {
		t.Errorf("more power for longer: %v", err)
	}
	for at, bad := range map[string][]capability.Effort{
		"#/efforts": efforts([2]float64{180, 280}), "#/efforts/1": efforts([2]float64{180, 280}, [2]float64{0, 300}),
	} {
		var asked *Error
		if _, err := e.Fit(t.Context(), Efforts{Efforts: bad}); !errors.As(err, &asked) || asked.Pointer != at || asked.Code != CodeInvalid {
			t.Errorf("%s: %+v", at, err)
		}
	}
}
