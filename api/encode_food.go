package api

import (
	"parcours.example/analysis/food"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// encodeFood writes what a ride takes of energy, food and drink.
func encodeFood(f *engine.Food) *Food {
	out := &Food{
		EnergyKcal:        round(f.EnergyKcal(), decimalsFood),
		CarbohydrateGPerH: encodeRange(f.CarbohydrateGPerH), DrinkLPerH: encodeRange(f.DrinkLPerH),
		CarbohydrateG: encodeRange(f.CarbohydrateG), DrinkL: encodeRange(f.DrinkL),
		Hot: f.Hot, Note: f.Note, Source: food.Source,
	}
	if len(f.Stages) > 0 {
		stages := each(f.Stages, func(s engine.Stage) FoodStage {
			return FoodStage{
				StartM: metres(s.StartM), EndM: metres(s.EndM), TimeS: metres(s.TimeS),
				CarbohydrateG: encodeRange(s.CarbohydrateG), DrinkL: encodeRange(s.DrinkL),
			}
		})
		out.Stages = &stages
	}
	return out
}

func encodeRange(r food.Range) GuidanceRange {
	return GuidanceRange{Low: round(r.Low, decimalsFood), High: round(r.High, decimalsFood)}
}
