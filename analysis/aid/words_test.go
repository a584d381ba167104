package aid

import (
	"fmt"
	"strings"
	"testing"

	"parcours.example/analysis/ride"
	"parcours.example/analysis/wording"
	"parcours.example/internal/golden"
)

// where names the parts of hilly.
func where(atM float64) Spot {
	switch {
	case atM >= 3_750 && atM < 4_000:
		return Spot{Text: wording.Metres(4_000-atM) + " before climb-1 (Oster)", By: "climb-1 (Oster)"}
	case atM >= 4_000 && atM < 7_000:
		return Spot{Text: wording.Metres(atM-4_000) + " into climb-1 (Oster)", By: "climb-1 (Oster)"}
	case atM >= 7_000 && atM < 10_000:
		return Spot{Text: wording.Metres(atM-7_000) + " into descent-1", By: "descent-1"}
	}
	return Spot{}
}

// facts finds everything that is told of aids.
func facts(t testing.TB, scenes []*Scene, aids ...Aid) *Facts {
	t.Helper()
	f := &Facts{Aids: aids, Line: "the finish", GapM: scenes[0].GapM, Where: where, Position: wording.Position, Without: make([][]string, len(aids))}
	for i, s := range scenes {
		c := Case{Who: []string{"Nour", "Bram", "Isa"}[i], Others: make([][]Other, len(aids))}
		for k := range aids {
			c.Found = append(c.Found, found(t, s, aids[k]))
			var sprints []Sprint
			if sprint, ok, err := AtLine(t.Context(), s, &aids[k], s.LineM); err != nil {
				t.Fatal(err)
			} else if ok {
				sprints = append(sprints, sprint)
			}
			c.Sprints = append(c.Sprints, sprints)
		}
		var err error
		if c.Joint, err = Together(t.Context(), s, aids, c.Found); err != nil {
			t.Fatal(err)
		}
		f.Cases = append(f.Cases, c)
	}
	for range aids {
		f.StartS = append(f.StartS, 425)
	}
	return f
}

// tales are recommendations for facts that differ, by name.
func tales(t testing.TB) [][2]string {
	course, flat := road(t, 12_000, hilly), road(t, 12_000, level)
	one, strong := scene(t, course, 250), scene(t, course, 380)
	late, both := dragAid(), wakeAid()
	late.EarnedM, both.DragFactor = []float64{2_000, 6_800, 11_990}, 0.9
	never := dragAid()
	never.EarnedM = []float64{9_000}
	short := scene(t, course, 250, ride.Span{StartM: 5_000, EndM: 5_000})
	short.LineM = 5_000
	brake := Aid{Name: "brake", DragFactor: 1.3, WakeFactor: 1, DurationS: 20}
	heavy := Aid{Name: "heavy", DragFactor: 1, MassChangeKg: 9, WakeFactor: 1, DurationS: 20}
	none := Aid{Name: "none", DragFactor: 1, WakeFactor: 1, DurationS: 20}
	tale := func(name string, f *Facts) [2]string { return [2]string{name, Recommend(f)} }
	gated := facts(t, []*Scene{one}, late)
	gated.Without = [][]string{{"Weir, pass 1 of 2", "Mill yard"}}
	turned := facts(t, []*Scene{one}, dragAid())
	turned.Cases[0].Others[0] = []Other{{PowerPct: -10, Best: 0, GainS: 2.5}, {PowerPct: 10, Best: 1, GainS: 2.4}}
	steady := facts(t, []*Scene{one}, dragAid())
	steady.Cases[0].Others[0] = []Other{{PowerPct: -10, Best: 0, GainS: 2.5}, {PowerPct: 10, Best: 0, GainS: 2.4}}
	halted := facts(t, []*Scene{one}, dragAid())
	halted.Cases[0].Found[0] = nil
	return [][2]string{
		tale("less drag", steady),
		tale("less drag, and more power turns it", turned),
		tale("less mass", facts(t, []*Scene{one}, massAid())),
		tale("less drag on the flat", facts(t, []*Scene{scene(t, flat, 250)}, dragAid())),
		tale("less drag from a gate on, three times, and less mass from the start", facts(t, []*Scene{one}, late, massAid())),
		tale("passes without it", gated),
		tale("a wake", facts(t, []*Scene{one}, wakeAid())),
		tale("a wake with less drag", facts(t, []*Scene{one}, both)),
		tale("more drag", facts(t, []*Scene{one}, brake)),
		tale("more mass, which helps downhill", facts(t, []*Scene{one}, heavy)),
		tale("nothing", facts(t, []*Scene{one}, none)),
		tale("a halt", halted),
		tale("too late", facts(t, []*Scene{short}, never)),
		tale("two riders, one as the other", facts(t, []*Scene{one, strong}, dragAid())),
		tale("two riders who differ", facts(t, []*Scene{one, scene(t, outside(t, 12_000, hilly), 250)}, dragAid())),
	}
}

// The recommendations as they are read: they change with what decides them.
func TestRecommendations(t *testing.T) {
	var all strings.Builder
	seen := map[string]string{}
	for _, tale := range tales(t) {
		fmt.Fprintf(&all, "# %s\n%s\n\n", tale[0], tale[1])
		if before, same := seen[tale[1]]; same {
			t.Errorf("%s reads as %s: %s", tale[0], before, tale[1])
		}
		seen[tale[1]] = tale[0]
		for _, unsaid := range []string{"NaN", "Inf", "%!", "  ", ".."} {
			if strings.Contains(tale[1], unsaid) {
				t.Errorf("%s: %q in %q", tale[0], unsaid, tale[1])
			}
		}
	}
	golden.Check(t, "recommendations.txt", all.String())
}
