package api_test

import (
	"encoding/json"
	"math"
	"net/http"
	"testing"

	"parcours.example/service/engine"
)

// TestFoodAddsUp demands that what is told of food agrees with the ride it is told of,
// whatever was rounded.
func TestFoodAddsUp(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body, err := json.Marshal(object{
		"course": object{
			"profile": object{"distance_m": []float64{0, 80_000}},
			"options": object{"marks": []any{object{"name": "Weir", "kind": "feed", "at_m": 30_000}}},
		},
		"riders": []any{object{"mass_kg": 70.0}}, "effort": object{"kind": "power", "power_w": 220},
	})
	if err != nil {
		t.Fatal(err)
	}
	type amount struct{ Low, High float64 }
	var answer struct {
		Predictions []struct {
			TimeS           float64 `json:"time_s"`
			EnergyExpendedJ float64 `json:"energy_expended_j"`
			Food            struct {
				EnergyKcal        float64 `json:"energy_kcal"`
				CarbohydrateGPerH amount  `json:"carbohydrate_g_per_h"`
				CarbohydrateG     amount  `json:"carbohydrate_g"`
				DrinkLPerH        amount  `json:"drink_l_per_h"`
				DrinkL            amount  `json:"drink_l"`
				Hot               bool
				Stages            []struct {
					EndM          float64 `json:"end_m"`
					CarbohydrateG amount  `json:"carbohydrate_g"`
					DrinkL        amount  `json:"drink_l"`
				}
			}
		}
	}
	w := h.send(t, request(http.MethodPost, "/v1/predictions", "application/json", body))
	if err := json.Unmarshal(w.Body.Bytes(), &answer); err != nil || w.Code != http.StatusOK {
		t.Fatalf("status %d, %v: %.500s", w.Code, err, w.Body)
	}
	p := answer.Predictions[0]
	f, hours := p.Food, p.TimeS/3600
	near := func(what string, got, want, tolerance float64) {
		t.Helper()
		if !(math.Abs(got-want) <= tolerance) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	near("kcal", f.EnergyKcal, p.EnergyExpendedJ/4184, 0.006)
	near("g", f.CarbohydrateG.High, f.CarbohydrateGPerH.High*hours, 0.006)
	near("l", f.DrinkL.Low, f.DrinkLPerH.Low*hours, 0.006)
	if f.CarbohydrateGPerH != (amount{30, 60}) || f.DrinkLPerH != (amount{0.4, 0.8}) || f.Hot || len(f.Stages) != 2 {
		t.Fatalf("over %v h: %+v", hours, f)
	}
	near("end of the first stage", f.Stages[0].EndM, 30_000, 0.001)
	near("g of the stages", f.Stages[0].CarbohydrateG.Low+f.Stages[1].CarbohydrateG.Low, f.CarbohydrateG.Low, 0.02)
	near("l of the stages", f.Stages[0].DrinkL.High+f.Stages[1].DrinkL.High, f.DrinkL.High, 0.02)
}
