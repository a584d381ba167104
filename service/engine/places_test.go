package engine

import (
	"math"
	"os"
	"testing"

	"parcours.example/analysis/plan"
	"parcours.example/analysis/ride"
)

// seasonCourse analyses a course of the season.
func seasonCourse(t *testing.T, e *Engine, name string) *Course {
	t.Helper()
	content, err := os.ReadFile("../../testdata/season/" + name + ".gpx")
	if err != nil {
		t.Fatal(err)
	}
	c, err := e.Course(t.Context(), fromFile(content))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// windyRoad is a stretch of a course in a wind from the south-west.
func windyRoad(t *testing.T, c *Course, from, to float64) *ride.Road {
	t.Helper()
	m := matrix{course: c, from: from, to: to, conditions: UnstatedConditions()}
	m.conditions.WindMps, m.conditions.WindFromDeg = 5, 230
	road, err := m.road()
	if err != nil {
		t.Fatal(err)
	}
	return road
}

func TestPlacesOfACourse(t *testing.T) {
	e := newEngine(t, Config{})
	c := seasonCourse(t, e, "hoskerrow-eight")
	for _, stretch := range [][2]float64{{0, c.LengthM()}, {5_000, 21_000}} {
		from, to := stretch[0], stretch[1]
		road := windyRoad(t, c, from, to)
		seen, covered := map[string]int{}, 0.0
		for _, p := range placesOf(c, road, from, to) {
			seen[p.Of]++
			if p.StartM < 0 || p.EndM > to-from+1e-9 || p.StartM > p.EndM || (p.Of != plan.OfMark && p.StartM == p.EndM) {
				t.Errorf("%s from %v m to %v m of a ride of %v m", p, p.StartM, p.EndM, to-from)
			}
			switch p.Of {
			case plan.OfPart:
				covered += p.EndM - p.StartM
			case plan.OfFlat:
				if p.EndM-p.StartM < 1 {
					t.Errorf("%s of %v m", p, p.EndM-p.StartM)
				}
			}
		}
		if math.Abs(covered-(to-from)) > 1e-6 {
			t.Errorf("the parts cover %v m of %v m", covered, to-from)
		}
		for _, of := range []string{plan.OfClimb, plan.OfSection, plan.OfDescent, plan.OfFlat} {
			if seen[of] == 0 {
				t.Errorf("no place is a %s: %v", of, seen)
			}
		}
	}
}

func TestSectionsLieOnTheirPass(t *testing.T) {
	e := newEngine(t, Config{})
	c := seasonCourse(t, e, "morvask-laps-and-climb")
	places := placesOf(c, windyRoad(t, c, 0, c.LengthM()), 0, c.LengthM())
	pass := func(of plan.Place) *plan.Place {
		for i, p := range places {
			if p.Of == plan.OfClimb && p.ID == of.ID && p.Pass == of.Pass {
				return &places[i]
			}
		}
		return nil
	}
	n := 0
	for _, s := range places {
		if s.Of != plan.OfSection {
			continue
		}
		n++
		if climb := pass(s); climb == nil || s.StartM < climb.StartM-1e-6 || s.EndM > climb.EndM+1e-6 || s.Lap != climb.Lap {
			t.Errorf("%s, %v–%v m, isn't on %+v", s, s.StartM, s.EndM, climb)
		}
	}
	if n == 0 {
		t.Error("no sections")
	}
}

func TestFlatsEndWhereTheWindTurns(t *testing.T) {
	piece := func(startM, endM, headwind float64) ride.Piece {
		return ride.Piece{StartM: startM, EndM: endM, HeadwindMps: headwind}
	}
	for name, c := range map[string]struct {
		pieces []ride.Piece
		want   []windy
	}{
		"calm":         {[]ride.Piece{piece(0, 3000, 0.2)}, []windy{{"", 100, 2900}}},
		"one turn":     {[]ride.Piece{piece(0, 1500, 3), piece(1500, 3000, -3)}, []windy{{plan.KindHeadwind, 100, 1500}, {plan.KindTailwind, 1500, 2900}}},
		"a short turn": {[]ride.Piece{piece(0, 1500, 3), piece(1500, 1700, -3), piece(1700, 3000, 3)}, []windy{{plan.KindHeadwind, 100, 2900}}},
		"turns first":  {[]ride.Piece{piece(0, 300, -3), piece(300, 3000, 3)}, []windy{{plan.KindHeadwind, 100, 2900}}},
	} {
		got := windsOn(&ride.Road{Pieces: c.pieces}, 100, 2900)
		if len(got) != len(c.want) {
			t.Errorf("%s: %+v, want %+v", name, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: %+v, want %+v", name, got, c.want)
			}
		}
	}
}

// What keeping to steps costs on the season: the half of it is asked to lose no more than
// 0.5 %, and none more than 1 %.
func TestStepsOfTheSeason(t *testing.T) {
	if testing.Short() {
		t.Skip("plans ten courses")
	}
	e := newEngine(t, Config{})
	r := rider(72)
	r.CriticalPowerW, r.WPrimeJ = 270, 20_000
	little, all := 0, 0
	for _, name := range []string{
		"brambleseth-time-trial", "hoskerrow-eight", "hoskerrow-eight-lap", "morvask-laps-and-climb", "morvask-laps-and-climb-lap",
		"quellmere-criterium", "quellmere-criterium-lap", "skarnholt-hill-climb",
	} {
		c := seasonCourse(t, e, name)
		road := windyRoad(t, c, 0, c.LengthM())
		p, err := plan.Optimise(t.Context(), road, r, unstatedSetup(), plan.Unlimited(), nil)
		if err != nil {
			t.Fatal(err)
		}
		h, err := plan.Hold(t.Context(), road, r, unstatedSetup(), plan.Unlimited(), p, placesOf(c, road, 0, c.LengthM()), nil)
		if err != nil {
			t.Fatal(err)
		}
		lost := 100 * (h.Ride.TimeS/p.Ride.TimeS - 1)
		t.Logf("%s: %d steps lose %.2f %%, constant power loses %.2f %%", name, len(h.Steps), lost, 100*(p.Constant.TimeS/p.Ride.TimeS-1))
		if lost > 1 || h.Ride.TimeS > p.Constant.TimeS {
			t.Errorf("%s: the steps lose %v %%", name, lost)
		}
		all++
		if lost <= 0.5 {
			little++
		}
	}
	if 2*little < all {
		t.Errorf("on %d of %d courses the steps lose at most 0.5 %%", little, all)
	}
}
