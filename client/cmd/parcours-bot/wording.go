package main

import (
	"fmt"
	"math"
	"strconv"

	"parcours.example/api/contract"
)

// Exact by definition.
const (
	kgPerPound = 0.45359237
	mPerMile   = 1609.344
	mPerFoot   = 0.3048
)

// clock writes a time as 1:31:20 or 9:05.
func clock(seconds float64) string {
	s := int(math.Round(seconds))
	if s < 3600 {
		return fmt.Sprintf("%d:%02d", s/60, s%60)
	}
	return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
}

// number writes a number with at most so many decimals.
func number(v float64, decimals int) string {
	scale := math.Pow10(decimals)
	return strconv.FormatFloat(math.Round(v*scale)/scale, 'f', -1, 64)
}

func distance(m float64, units contract.Units) string {
	if units == contract.Imperial {
		return fmt.Sprintf("%.1f miles", m/mPerMile)
	}
	return fmt.Sprintf("%.1f km", m/1000)
}

func height(m float64, units contract.Units) string {
	if units == contract.Imperial {
		return fmt.Sprintf("%.0f ft", m/mPerFoot)
	}
	return fmt.Sprintf("%.0f m", m)
}

func speed(mps float64, units contract.Units) string {
	if units == contract.Imperial {
		return fmt.Sprintf("%.1f mph", mps*3600/mPerMile)
	}
	return fmt.Sprintf("%.1f km/h", mps*3.6)
}

func mass(kg float64, units contract.Units) string {
	if units == contract.Imperial {
		return number(kg/kgPerPound, 1) + " lb"
	}
	return number(kg, 1) + " kg"
}
