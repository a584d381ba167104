package ride

import (
	"math"

	"parcours.example/analysis/elementary"
)

const (
	typicalDragAreaM2 = 0.32
	typicalMassKg     = 75.0
)

// TypicalHeightM is the body height in m of a rider of whom none is known.
const TypicalHeightM = 1.80

// FrontalArea returns the frontal area in m² of a rider with bicycle from body height
// in m and mass in kg: A = 0.0293·H^0.725·M^0.425 + 0.0604 (Bassett, Kyle, Passfield,
// Broker, Burke 1999, Med. Sci. Sports Exerc. 31:1665–1676).
func FrontalArea(heightM, massKg float64) float64 {
	return float64(0.0293*elementary.Pow(heightM, 0.725)*elementary.Pow(massKg, 0.425)) + 0.0604
}

// EstimateDragArea returns the drag area in m² of a rider on a road bicycle with the
// hands on the hoods or in the drops: 0.32 m², a typical value, for 75 kg and 1.80 m,
// and in proportion to the frontal area for others.
func EstimateDragArea(heightM, massKg float64) float64 {
	return typicalDragAreaM2 * FrontalArea(heightM, massKg) / FrontalArea(TypicalHeightM, typicalMassKg)
}

// DragAreaRatio returns the rider's drag area at another body mass in kg over that at the
// own one, the height and the position being the same: the ratio of the frontal areas.
func (r Rider) DragAreaRatio(massKg float64) float64 {
	height := r.HeightM
	if math.IsNaN(height) {
		height = TypicalHeightM
	}
	return FrontalArea(height, massKg) / FrontalArea(height, r.MassKg)
}
