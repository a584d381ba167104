package terrain

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestFalseFlats(t *testing.T) {
	for _, tc := range []struct {
		name string
		p    profile
		want []span
	}{
		{"level", ramps(0, ramp{5000, 0}), nil},
		{"a rise of the land", ramps(0, ramp{5000, 0.9}), nil},
		{"a drag", ramps(0, ramp{1000, 0}, ramp{800, 2}, ramp{1000, 0}), []span{{1000, 1800}}},
		{"too short", ramps(0, ramp{1000, 0}, ramp{490, 2}, ramp{1000, 0}), nil},
		{"with a rest", ramps(0, ramp{1000, 0}, ramp{600, 2}, ramp{200, 0}, ramp{600, 2}, ramp{1000, 0}), []span{{1000, 2400}}},
		{"on the way to a climb", ramps(0, ramp{1000, 0}, ramp{700, 1.5}, ramp{1000, 6}, ramp{700, 1.5}, ramp{500, -1}), []span{{1000, 1700}, {2700, 3400}}},
		{"in a gentler rise", ramps(0, ramp{4000, 0.8}, ramp{700, 1.5}, ramp{4000, 0.8}), []span{{4000, 4700}}},
		{"a climb", ramps(0, ramp{2000, 3.1}), nil},
		{"as steep as a climb, but too short for one", ramps(0, ramp{1000, 0}, ramp{600, 3.1}, ramp{1000, 0}), nil},
	} {
		got := dissect(tc.p.course()).Climbing.FalseFlats
		if len(got) != len(tc.want) {
			t.Errorf("%s: got %+v, want %v", tc.name, got, tc.want)
			continue
		}
		for i, w := range tc.want {
			if math.Abs(got[i].StartM-w.start)+math.Abs(got[i].EndM-w.end) > 1e-6 {
				t.Errorf("%s: got %+v, want %v", tc.name, got[i], w)
			}
		}
	}
}

func TestAFalseFlatOnEachLapIsOneFalseFlat(t *testing.T) {
	lap := ramps(50, ramp{1000, 0}, ramp{1000, 2}, ramp{1000, -2}, ramp{1000, 0}).every(10)
	got := dissect(lap.laps(3)).Climbing.FalseFlats
	if len(got) != 1 || math.Abs(got[0].GainM-20) > 1e-9 || bounds(got[0].Passes) != "1:1000-2000 2:5000-6000 3:9000-10000 " {
		t.Errorf("got %+v", got)
	}
}

// Every false flat is what its definition says, and none lies on a climb.
func TestFalseFlatsKeepTheirDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProfile(t)
		for i := range p.z {
			p.z[i] *= 0.4 // gentler
		}
		got := dissect(p.course())
		for _, f := range got.Climbing.FalseFlats {
			if f.LengthM() < 500-1e-5 || f.MeanGradientPct < 1-1e-5 || f.MeanGradientPct >= 3 {
				t.Fatalf("%+v is no false flat", f)
			}
			for _, c := range got.Climbs {
				if o := (span{f.StartM, f.EndM}).overlap(span{c.StartM, c.EndM}); o > 1e-6 {
					t.Fatalf("%+v lies on %+v for %g m", f.Stretch, c.Stretch, o)
				}
			}
		}
	})
}
