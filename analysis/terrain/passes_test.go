package terrain

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func bounds(passes []Pass) string {
	text := ""
	for _, p := range passes {
		text += fmt.Sprintf("%d:%.0f-%.0f ", p.Lap, p.StartM, p.EndM)
	}
	return text
}

func TestAClimbOnEachLapIsOneClimb(t *testing.T) {
	lap := ramps(50, ramp{2000, 0}, ramp{1000, 6}, ramp{500, 0}, ramp{1000, -6}, ramp{500, 0}).every(10)
	got := dissect(lap.laps(4))
	if len(got.Climbs) != 1 || len(got.Descents) != 1 {
		t.Fatalf("got %d climbs, %d descents", len(got.Climbs), len(got.Descents))
	}
	if b := bounds(got.Climbs[0].Passes); b != "1:2000-3000 2:7000-8000 3:12000-13000 4:17000-18000 " {
		t.Errorf("climb passes %s", b)
	}
	if b := bounds(got.Descents[0].Passes); b != "1:3500-4500 2:8500-9500 3:13500-14500 4:18500-19500 " {
		t.Errorf("descent passes %s", b)
	}
	if p := got.Climbs[0].Passes[3]; p.ToFinishM != 3000 || got.Climbs[0].EndsAtFinish {
		t.Errorf("last pass %+v, ends at finish %v", p, got.Climbs[0].EndsAtFinish)
	}
}

// The line lies two thirds up the climb: the start takes its upper third, then come
// the whole passes, and the finish cuts the last one.
func TestTheLineInsideTheClimb(t *testing.T) {
	lap := ramps(90, ramp{500, 6}, ramp{1500, -3}, ramp{1500, -3}, ramp{500, 0}, ramp{1000, 6}).every(10)
	got := dissect(lap.laps(3)).Climbs
	if len(got) != 2 {
		t.Fatalf("got %d climbs: %+v", len(got), got)
	}
	if b := bounds(got[0].Passes); b != "1:0-500 " || got[0].EndsAtFinish {
		t.Errorf("the start: %s", b)
	}
	if got[0].PartOfID != "climb-2" || got[1].PartOfID != "" {
		t.Errorf("parts of %q and %q", got[0].PartOfID, got[1].PartOfID)
	}
	for i, p := range got[1].Passes {
		if p.Partial != (i == 2) {
			t.Errorf("pass %d is partial: %v", i+1, p.Partial)
		}
	}
	if b := bounds(got[1].Passes); b != "1:4000-5500 2:9000-10500 3:14000-15000 " || !got[1].EndsAtFinish {
		t.Errorf("the climb: %s, ends at finish %v", b, got[1].EndsAtFinish)
	}
}

// On one lap of four a wider dip hides the upper half of the climb from the
// definition; the climb is ridden four times all the same.
func TestAPassThatWasNotDetectedOnItsOwn(t *testing.T) {
	lap := ramps(50, ramp{2000, 0}, ramp{600, 6}, ramp{100, -2}, ramp{600, 6}, ramp{500, 0}, ramp{1000, -7}, ramp{200, 0}).every(10)
	c := lap.laps(4)
	for i, s := range c.S {
		if x := s - lap.lengthM(); x > 2300 && x < 2900 {
			c.Z[i] -= 30 * math.Sin((x-2300)/600*math.Pi)
		}
	}
	if n := len(rises(profile{c.S, c.Z})); n <= 4 {
		t.Fatalf("the noise does not part the climb: %d rises", n)
	}
	got := dissect(c).Climbs
	if len(got) != 1 || len(got[0].Passes) != 4 {
		t.Fatalf("got %d climbs: %+v", len(got), got)
	}
}

// On one lap of four the dip after the climb is filled, so that the next rise joins it
// there; the other three laps say what the climb is.
func TestMostLapsDecideWhatTheClimbIs(t *testing.T) {
	lap := ramps(50, ramp{2000, 0}, ramp{600, 6}, ramp{200, -8}, ramp{300, 6}, ramp{1000, -3.8}, ramp{500, 0}).every(10)
	c := lap.laps(4)
	for i, s := range c.S {
		if x := s - 2*lap.lengthM(); x > 2600 && x < 3100 {
			c.Z[i] = max(c.Z[i], 86+0.03*(x-2600))
		}
	}
	if n := len(rises(profile{c.S, c.Z})); n != 7 {
		t.Fatalf("%d rises, want two on three laps and one on the other", n)
	}
	got := dissect(c).Climbs
	if len(got) != 2 || math.Abs(got[0].LengthM()-600) > 1 || len(got[0].Passes) != 4 || len(got[1].Passes) != 4 {
		t.Errorf("got %+v", got)
	}
}

func TestLapsMultiplyPasses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// A long gentle way back keeps the climbs of two laps apart.
		p := anyProfile(t)
		back := p.z[0] - p.z[len(p.z)-1]
		n := len(p.s) - 1
		p.s = append(p.s, p.s[n]+40e3+math.Abs(back)*100)
		p.z = append(p.z, p.z[n]+back)
		laps := rapid.IntRange(2, 6).Draw(t, "laps")
		once, often := dissect(p.course()).Climbs, dissect(p.laps(laps)).Climbs
		if len(once) != len(often) {
			t.Fatalf("%d climbs on one lap, %d on %d laps", len(once), len(often), laps)
		}
		for i := range once {
			if len(often[i].Passes) != laps*len(once[i].Passes) || math.Abs(once[i].GainM-often[i].GainM) > 1e-6 {
				t.Fatalf("climb %d: %s, one lap %s", i, bounds(often[i].Passes), bounds(once[i].Passes))
			}
		}
	})
}

func TestReversingTurnsClimbsIntoDescents(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProfile(t)
		n, length := len(p.s), p.lengthM()
		q := profile{make([]float64, n), make([]float64, n)}
		for i := range p.s {
			q.s[i], q.z[i] = length-p.s[n-1-i], p.z[n-1-i]
		}
		var up []Climb
		for _, c := range dissect(p.course()).Climbs {
			if c.ParentID == "" {
				up = append(up, c)
			}
		}
		down := dissect(q.course()).Descents
		if len(up) != len(down) {
			t.Fatalf("%d climbs, %d descents", len(up), len(down))
		}
		for i, c := range up {
			d := down[len(down)-1-i]
			off := math.Abs(c.StartM-(length-d.EndM)) + math.Abs(c.EndM-(length-d.StartM)) +
				math.Abs(c.GainM-d.DropM) + math.Abs(c.MaxGradientPct+d.MaxGradientPct)
			if off > 1e-5 {
				t.Fatalf("climb %+v, descent %+v", c.Stretch, d.Stretch)
			}
		}
	})
}

func TestRaisingTheLandChangesNoBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProfile(t)
		q := profile{p.s, make([]float64, len(p.z))}
		for i := range p.z {
			q.z[i] = p.z[i] + 500
		}
		low, high := dissect(p.course()).Climbs, dissect(q.course()).Climbs
		if len(low) != len(high) {
			t.Fatalf("%d and %d climbs", len(low), len(high))
		}
		for i := range low {
			if low[i].StartM != high[i].StartM || low[i].EndM != high[i].EndM || len(low[i].Sections) != len(high[i].Sections) {
				t.Fatalf("%+v became %+v", low[i].Stretch, high[i].Stretch)
			}
		}
	})
}

func TestTheLapOfAPass(t *testing.T) {
	c := ramps(0, ramp{1000, 0}).laps(3)
	got := passesAt(c, []span{{970, 1500}, {985, 1500}, {1000, 1500}, {1975, 2005}})
	for i, want := range []int{1, 2, 2, 2} {
		if got[i].Lap != want {
			t.Errorf("%+v: want lap %d", got[i], want)
		}
	}
}
