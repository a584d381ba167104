package plan

import (
	"strings"
	"testing"
)

func TestPlacesInWords(t *testing.T) {
	for want, p := range map[string]Place{
		"lead-in":                      {Of: OfPart, Kind: kindLeadIn},
		"lap 3":                        {Of: OfPart, Kind: kindLap, Lap: 3},
		"run-out":                      {Of: OfPart, Kind: kindRunOut},
		"the course":                   {Of: OfPart, Kind: kindWhole},
		"climb-2":                      {Of: OfClimb, ID: "climb-2"},
		"climb-1 (Oster), lap 3":       {Of: OfClimb, ID: "climb-1", Name: "Oster", Lap: 3, Pass: 4},
		"section 2 of climb-1 (Oster)": {Of: OfSection, ID: "climb-1", Name: "Oster", Section: 2},
		"section 1 of climb-1, pass 2": {Of: OfSection, ID: "climb-1", Section: 1, Pass: 2},
		"descent-1, lap 1":             {Of: OfDescent, ID: "descent-1", Lap: 1, Pass: 1},
		"false flat, lap 2":            {Of: OfFalseFlat, Lap: 2},
		"flat into the wind":           {Of: OfFlat, Kind: KindHeadwind},
		"flat with the wind, lap 1":    {Of: OfFlat, Kind: KindTailwind, Lap: 1},
		"flat":                         {Of: OfFlat},
		"mark-1 (" + strings.Repeat("é", 59) + "…)": {Of: OfMark, ID: "mark-1", Name: strings.Repeat("é", 80)},
	} {
		if got := p.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestStepsHaveTheirPlaceInWords(t *testing.T) {
	places := []Place{
		{Of: OfPart, Kind: kindLap, Lap: 1, EndM: 10_000},
		{Of: OfClimb, ID: "climb-1", Lap: 1, StartM: 2000, EndM: 4000},
		{Of: OfSection, ID: "climb-1", Section: 1, Lap: 1, StartM: 2000, EndM: 2500},
		{Of: OfSection, ID: "climb-1", Section: 2, Lap: 1, StartM: 2500, EndM: 4000},
		{Of: OfDescent, ID: "descent-1", Lap: 1, StartM: 4000, EndM: 6000},
		{Of: OfFlat, Lap: 1, StartM: 6000, EndM: 10_000},
		{Of: OfMark, ID: "mark-1", StartM: 4000, EndM: 4000},
	}
	for _, c := range []struct {
		fromM, toM float64
		of, words  string
	}{
		{2000, 4000, OfClimb, "climb-1, lap 1"},
		{2100, 3900, OfClimb, "climb-1, lap 1"},
		{2510, 4000, OfSection, "section 2 of climb-1, lap 1"},
		{2000, 6000, OfClimb, "climb-1 to descent-1, lap 1"},
		{2000, 2300, OfSection, "first 300 m of section 1 of climb-1, lap 1"},
		{3500, 4000, OfSection, "last 500 m of section 2 of climb-1, lap 1"},
		{7000, 8000, OfFlat, "1.0 km of flat, lap 1, from 1.0 km in"},
		{0, 10_000, OfPart, "lap 1"},
		{0, 2000, OfPart, "first 2.0 km of lap 1"},
		{3000, 5000, OfPart, "2.0 km of lap 1, from 3.0 km in"},
	} {
		if place, words := locate(places, c.fromM, c.toM); place.Of != c.of || words != c.words {
			t.Errorf("%v–%v m are on %s, %q; want %s, %q", c.fromM, c.toM, place.Of, words, c.of, c.words)
		}
	}
}
