package race_test

import (
	"testing"

	"parcours.example/analysis/race"
)

// TestWhoContestsALine demands that a scored line is sprinted for by all who are free to,
// one that is only ordered by those who were told to.
func TestWhoContestsALine(t *testing.T) {
	road := flat(t, 10_000)
	launchedAt := func(lines ...float64) map[int]bool {
		field := identical(12)
		field[3].Orders = []race.Order{{Kind: race.Sprint, AtM: 6000}}
		field[5].Orders = []race.Order{{Kind: race.SitIn}}
		rules := plain()
		rules.Lines = lines
		who := map[int]bool{}
		for _, e := range watched(t, road, field, []float64{6000}, rules, 0).Events {
			if e.Kind == race.Launched && e.AtM < 6000 {
				who[e.Entrant] = true
			}
		}
		return who
	}
	if who := launchedAt(); len(who) != 1 || !who[3] {
		t.Errorf("a line that is only ordered: launched by %v", who)
	}
	if who := launchedAt(6000); len(who) < 6 || !who[3] || who[5] {
		t.Errorf("a scored line: launched by %v", who)
	}
}
