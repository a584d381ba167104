package terrain

import "parcours.example/analysis"

// difficulty returns the severity of a climb of a gain and a length that ends at
// an elevation, all in metres.
//
// The index is open knowledge of the trade, published by the Dutch cycling
// magazine Fiets: H²/(10·D) + max(0, (T − 1000)/1000) with the height H, the length
// D and the top's elevation T in metres.
func difficulty(gainM, lengthM, topM float64) Difficulty {
	return Difficulty{
		H2Index:                  gainM*gainM/(10*lengthM) + max(0, (topM-1000)/1000),
		WorkAgainstGravityJPerKg: analysis.Gravity * gainM,
	}
}
