package choice

import (
	"strings"
	"testing"

	"parcours.example/analysis/ride"
)

// hilly is a case of a flat, a climb and a finish for a rider with three set-ups.
func hilly(t testing.TB, powerW float64, changes ...Change) (Case, Told) {
	t.Helper()
	road := mustRoad(t, profile([]float64{0, 20_000, 26_000, 40_000}, []float64{50, 50, 530, 480}), conditions())
	c := Case{
		Road: road, Rider: rider(64), Doubt: doubtful(road), Quantities: allQuantities, Finish: 2, Changes: changes,
		Setups:    []ride.Setup{setup("smooth", 9.5, -0.03), setup("light", 6.8, 0), setup("heavy", 12, 0)},
		Ambitions: []Ambition{{"the weir", []Pass{{15_000, 15_000}}}, {"the Spur", []Pass{{20_000, 26_000}}}, finish(road)},
	}
	c.Rider.CriticalPowerW, c.Rider.WPrimeJ = 250, 15_000
	c = c.at(t, powerW)
	return c, Told{Rider: "Nour", Verdict: decide(t, c), Infeasible: make([]bool, 3)}
}

func contains(t testing.TB, text string, parts ...string) {
	t.Helper()
	for _, p := range parts {
		if !strings.Contains(text, p) {
			t.Errorf("%q isn't said: %s", p, text)
		}
	}
}

// What is said follows the facts.
func TestRecommendationFollowsTheFacts(t *testing.T) {
	c, told := hilly(t, 240)
	said := Recommendation(c, told)
	contains(t, said, "smooth is the choice for the finish", "The slowest, heavy, is", "Over the Spur it is light, by", "which costs",
		"To the weir (by", "smooth is first as well", "It would be light in the place of smooth", "below 19 % of the drag alone", "The order holds for any mass from 40.0 kg to 120.0 kg at the same power per kilogram and power from")
	told.Infeasible[0] = true
	contains(t, Recommendation(c, told), "On smooth this effort asks for more than W′ holds")

	weak, weaker := hilly(t, 140)
	contains(t, Recommendation(weak, weaker), "nothing tells smooth and light apart at the finish", "by the inputs it may be anything from −")

	c.Setups[1], c.Setups[2] = c.Setups[0], c.Setups[0]
	c = c.at(t, 240)
	same := Recommendation(c, Told{Rider: "Nour", Verdict: decide(t, c)})
	contains(t, same, "makes no difference what to ride", "smooth (no. 1), smooth (no. 2) and smooth (no. 3)")
	if strings.Contains(same, "It would be") || strings.Contains(same, "0.0 s") {
		t.Error(same)
	}

	c.Rides[1], c.Rides[2] = nil, nil
	contains(t, Recommendation(c, Told{Rider: "Nour", Verdict: decide(t, c)}), "Only smooth (no. 1) takes Nour to the finish")
	c.Rides[0] = nil
	contains(t, Recommendation(c, Told{Rider: "Nour", Verdict: decide(t, c)}), "Nour comes to a halt on every set-up")
}

// Every kind of change has its own words.
func TestWordsOfChanges(t *testing.T) {
	foot, late := []Spot{{"the foot of the Spur", 20_000}}, []Spot{{"the foot of the Spur", 20_000}, {"the mill", 39_000}}
	for name, x := range map[string]struct {
		change Change
		powerW float64
		parts  []string
	}{
		"loses":   {Change{From: 0, To: 1, Spots: foot, Stops: true, StandingS: 15}, 240, []string{"at the foot of the Spur doesn't pay, it loses", "15 s standing", "It opens a gap of", "closed after 4.1 km and opened again before the finish"}},
		"pays":    {Change{From: 2, To: 0, Spots: foot, Stops: true, StandingS: 5}, 240, []string{"pays by", "It pays with up to", "But smooth from start to finish is faster still, by", "closed after"}},
		"bunch":   {Change{From: 0, To: 2, Spots: foot, Stops: true, AloneM: 900, AloneShelter: 1}, 240, []string{"loses another", "for the lost shelter", "which isn't closed by the finish", "It wouldn't pay with no standing at all"}},
		"rolling": {Change{From: 1, To: 0, Spots: late}, 240, []string{"at its best place, the mill,", "pays by", "the other bike wins"}},
		"none":    {Change{From: 0, To: 0, Spots: foot}, 240, []string{"can't be told from none: it gains nothing"}},
	} {
		t.Run(name, func(t *testing.T) {
			c, told := hilly(t, x.powerW, x.change)
			if x.change.AloneM > 0 {
				c.Road.Conditions.Shelter = 0.7
				told.Verdict = decide(t, c.at(t, x.powerW))
			}
			contains(t, Recommendation(c, told), append(x.parts, "A change from "+c.Setups[x.change.From].Name+" to ")...)
		})
	}
}

// Riders who come to the same stand together, and no one is told a sentence that isn't true
// for them.
func TestSummaryGroupsRiders(t *testing.T) {
	change := Change{From: 0, To: 1, Spots: []Spot{{"the foot of the Spur", 20_000}}, Stops: true, StandingS: 15}
	c, strong := hilly(t, 240, change)
	_, weak := hilly(t, 140, change)
	strong.Rider, weak.Rider = "Bram", "Ida"
	other := strong
	other.Rider = "Olu"
	said := Summary(c, []Told{strong, weak, other})
	contains(t, said, "For the finish: smooth for Bram (by ", ") and Olu (by ", "; either of smooth and light for Ida (",
		"Over the Spur: light for Bram (by ", "For the finish it would be otherwise: ", "A change from smooth to light at the foot of the Spur ")
	if Summary(c, []Told{strong}) != Recommendation(c, strong) {
		t.Error("a single rider's summary isn't the recommendation")
	}
	var many []Told
	for range 9 {
		many = append(many, strong)
	}
	contains(t, Summary(c, many), "and 4 more")
}
