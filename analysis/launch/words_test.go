package launch

import (
	"math"
	"strings"
	"testing"
)

// The paragraph follows the facts: each of these holds one that the others don't.
func TestRecommendationFollowsTheFacts(t *testing.T) {
	s, weak := sprinter(t, 72, 300, 20000, 1200), sprinter(t, 60, 200, 12000, 800)
	tell := func(name string, line int, a Approach, s Sprinter) Told {
		inclines, err := Inclines(t.Context(), a, s, gradients())
		if err != nil {
			t.Fatal(err)
		}
		wheels, err := Wheels(t.Context(), a, s, []int{1, 2, 3, 4})
		if err != nil {
			t.Fatal(err)
		}
		return Told{Line: line, Passes: []string{"the mill"}, Name: name, Approach: a, Sprint: mustFind(t, a, s), Inclines: inclines, Wheels: wheels}
	}
	fast, slow := behind(t, 0, 0, 16.6), behind(t, 0, 0, 13)
	again := tell("Nour", 0, fast, s)
	again.Passes = []string{"the mill, pass 1 of 3", "the mill, pass 2 of 3"}
	for _, c := range []struct {
		what  string
		told  []Told
		holds []string
		not   []string
	}{
		{"a sprint", []Told{tell("Nour", 0, fast, s)}, []string{"To the mill Nour launches ", "behind a wheel at 60 km/h", "ahead of the head", "Anywhere from", "If the line were at 4.0 % instead of 0.0 %, the launch would be at"}, []string{"later, launching", "more with the same"}},
		{"a slow wheel", []Told{tell("Nour", 0, slow, s)}, []string{"as soon as the approach starts", "at 47 km/h the wheel is so slow", "The place matters: 50 m too late costs"}, []string{"Anywhere"}},
		{"too fast a wheel", []Told{tell("Ada", 0, behind(t, 0, 0, 18), weak)}, []string{"The head of the line, if it rides on, stays "}, []string{"ahead of the head of the line, had"}},
		{"a wheel that can't be held", []Told{tell("Ada", 0, behind(t, 0.05, 0, 11), weak)}, []string{"The wheel can't be held beyond ", "on 5.0 %"}, nil},
		{"a line that is steep already", []Told{tell("Nour", 0, behind(t, 0.07, 0, 9), s)}, []string{"If the line were at 0.0 % instead of 7.0 %"}, nil},
		{"two riders", []Told{tell("Ada", 0, fast, weak), tell("Nour", 0, fast, s)}, []string{"To the mill Nour", "Ada is there "}, []string{"can't be told apart"}},
		{"the same twice", []Told{tell("Nour", 0, fast, s), tell("Bram", 0, fast, s)}, []string{"Bram, launching ", "can't be told apart"}, []string{"Bram is there"}},
		{"many", []Told{tell("A", 0, fast, s), tell("B", 0, fast, weak), tell("C", 0, fast, weak), tell("D", 0, fast, weak), tell("E", 0, fast, weak)}, []string{"the last of 1 more "}, nil},
		{"passes alike", []Told{again}, []string{"the mill, pass 1 of 3 and 1 more with the same approach"}, nil},
		{"two lines", []Told{tell("Nour", 0, fast, s), tell("Nour", 1, slow, s)}, []string{"Anywhere from", "so slow that waiting"}, nil},
		{"nobody", nil, []string{"No rider gets up"}, nil},
	} {
		paragraph := Recommend(c.told)
		for _, part := range c.holds {
			if !strings.Contains(paragraph, part) {
				t.Errorf("%s: no %q in %q", c.what, part, paragraph)
			}
		}
		for _, part := range c.not {
			if strings.Contains(paragraph, part) {
				t.Errorf("%s: %q in %q", c.what, part, paragraph)
			}
		}
		if strings.ContainsAny(paragraph, "\n") || strings.Contains(paragraph, "NaN") || strings.Contains(paragraph, "  ") {
			t.Errorf("%s: %q", c.what, paragraph)
		}
	}
}

func TestRecommendationOfSpecialCases(t *testing.T) {
	flat := Approach{Pieces: piecesOf(t, 0, stretch{300, 0}), SpeedMps: 15, Place: 1, Shelter: PlaceShelter(1)}
	stay := &Sprint{Best: Best{AheadS: -0.1, LineSpeedMps: 15, TimeS: 20}, LostM: math.NaN(), EarliestM: 20}
	told := Told{Passes: []string{"the mill"}, Name: "Nour", Approach: flat, Sprint: stay, Inclines: []Incline{{Gradient: 0.04, Best: stay.Best}}}
	for _, part := range []string{"does best to stay on the wheel", "later than riding on at the approach's power", "it would be best to stay on the wheel."} {
		if paragraph := Recommend([]Told{told}); !strings.Contains(paragraph, part) {
			t.Errorf("no %q in %q", part, paragraph)
		}
	}
	told.Wheels = []Wheel{{Place: 3, Best: stay.Best}}
	if paragraph := Recommend([]Told{told}); !strings.Contains(paragraph, "From third wheel it is the same.") {
		t.Errorf("%q", paragraph)
	}
	var many []Told
	for i := range 7 {
		told.Line = i
		many = append(many, told)
	}
	if paragraph := Recommend(many); !strings.Contains(paragraph, "3 further lines and passes stand in the launches.") {
		t.Errorf("%q", paragraph)
	}
}
