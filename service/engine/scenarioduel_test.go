package engine

import (
	"errors"
	"math"
	"testing"

	"parcours.example/analysis/ride"
	"parcours.example/analysis/terrain"
)

// fielded is a field of riders by name and mass.
func fielded(asked []string, masses ...float64) *scenario {
	s := &scenario{asked: ScenarioRequest{RaceQuestion: RaceQuestion{Duel: asked}}, byName: map[string]int{}}
	for i, m := range masses {
		name := string(rune('a' + i))
		s.field = append(s.field, Contender{Rider: ride.Rider{Name: name, MassKg: m}})
		s.byName[name] = i
	}
	return s
}

func TestWhoRidesTheDuel(t *testing.T) {
	for _, c := range []struct {
		asked   []string
		masses  []float64
		want    [2]int
		pointer string
	}{
		{nil, []float64{70, 82, 58, 66}, [2]int{1, 2}, ""},
		{nil, []float64{70, 70, 70}, [2]int{2, 0}, ""},
		{[]string{"a", "d"}, []float64{70, 82, 58, 66}, [2]int{0, 3}, ""},
		{[]string{"d", "a"}, []float64{70, 82, 58, 66}, [2]int{0, 3}, ""},
		{[]string{"a", "z"}, []float64{70, 82}, [2]int{}, "#/duel/riders/1"},
		{[]string{"b", "b"}, []float64{70, 82}, [2]int{}, "#/duel/riders/1"},
	} {
		pair, err := fielded(c.asked, c.masses...).match()
		var fault *Error
		if c.pointer != "" {
			if !errors.As(err, &fault) || fault.Pointer != c.pointer {
				t.Errorf("%v: %v", c.asked, err)
			}
			continue
		}
		if err != nil || len(pair) != 2 || pair[0] != c.want[0] || pair[1] != c.want[1] {
			t.Errorf("%v of %v: %v, %v", c.asked, c.masses, pair, err)
		}
	}
	if pair, err := fielded(nil, 70).match(); pair != nil || err != nil {
		t.Errorf("alone: %v, %v", pair, err)
	}
}

// The steep part of a climb is no climb of its own here.
func TestTheLastClimb(t *testing.T) {
	c := &Course{Terrain: &terrain.Terrain{Climbs: []terrain.Climb{{ID: "climb-1"}, {ID: "climb-2"}, {ID: "climb-3", ParentID: "climb-2"}}}}
	spans := []Span{
		{Of: FeatureClimb, Index: 0, StartM: 100},
		{Of: FeatureClimb, Index: 1, StartM: 500},
		{Of: FeatureClimb, Index: 2, StartM: 700},
		{Of: FeatureClimb, Index: 0, StartM: 600},
		{Of: FeatureMark, StartM: 900},
	}
	if last := lastClimb(c, spans); last == nil || last.StartM != 600 {
		t.Errorf("%+v", last)
	}
	if last := lastClimb(c, spans[4:]); last != nil {
		t.Errorf("%+v", last)
	}
}

// A duel on a course of the season is told at the places of the course, and the two are
// those who rode alone.
func TestDuelOnACourse(t *testing.T) {
	e := newEngine(t, Config{})
	course := seasonCourse(t, e, "morvask-laps-and-climb")
	unset := math.NaN()
	rider := func(name string, kg float64) Contender {
		return Contender{Rider: ride.Rider{
			Name: name, MassKg: kg, HeightM: unset, CdAM2: unset, CriticalPowerW: 4 * kg, WPrimeJ: 18_000, MaxPowerW: unset, RecoveryRate: unset, GrossEfficiency: unset,
		}}
	}
	rules := UnstatedRules()
	rules.Runs = 1
	const from = 3000.0
	got, err := e.Scenario(t.Context(), ScenarioRequest{
		Course: CourseSource{ID: course.ID}, StartM: from, EndM: unset, Conditions: UnstatedConditions(),
		RaceQuestion: RaceQuestion{Riders: []Contender{rider("Nour", 60), rider("Bram", 80)}, Rules: rules},
	})
	if err != nil {
		t.Fatal(err)
	}
	d := got.Duel
	if d == nil || d.HeavierIndex != 1 || math.Abs(d.Heavier.TimeS-got.AloneS[1]) > 1e-4 || math.Abs(d.Lighter.TimeS-got.AloneS[0]) > 1e-4 {
		t.Fatalf("%v and %v s in the duel, alone %v", d.Heavier.TimeS, d.Lighter.TimeS, got.AloneS)
	}
	last := course.Terrain.Climbs[0].Passes[0]
	for _, c := range course.Terrain.Climbs {
		for _, p := range c.Passes {
			if c.ParentID == "" && p.StartM > last.StartM {
				last = p
			}
		}
	}
	if d.LastClimb == nil || d.LastClimb.StartM != last.StartM || d.Answer.LastClimb.StartM != last.StartM-from {
		t.Errorf("the last climb is %+v, not %+v", d.LastClimb, last)
	}
	if len(d.Spans) != len(d.Stretches) || len(d.Spans) == 0 || d.Spans[0].StartM-from != d.Stretches[0].StartM {
		t.Errorf("%d spans, %d stretches", len(d.Spans), len(d.Stretches))
	}
	t.Log(d.Words())
}
