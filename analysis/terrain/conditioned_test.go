package terrain

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/course"
)

// A climb as a rider would tell it comes out of a noisy recording as it was built:
// 400 m at 8 %, a rest of 150 m, 600 m at 9 %, a pitch of 60 m at 15 %, 300 m at 6 %.
func TestAClimbThroughConditioning(t *testing.T) {
	built := []ramp{{400, 8}, {150, 1}, {600, 9}, {60, 15}, {300, 6}}
	p := ramps(300, append(append([]ramp{{3000, 0.5}}, built...), ramp{2500, -4})...).every(6)
	for _, noise := range []float64{0, 0.1, 0.3} {
		rng := rand.New(rand.NewPCG(5, 5))
		z := make([]float64, len(p.z))
		for i := range z {
			z[i] = p.z[i] + noise*rng.NormFloat64()
		}
		c, err := course.FromProfile(context.Background(), p.s, z, course.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		climbs := dissect(c).Climbs
		if len(climbs) != 1 || len(climbs[0].Sections) != len(built) {
			t.Errorf("noise %g m: got %+v", noise, climbs)
			continue
		}
		at := 3000.0
		for i, s := range climbs[0].Sections {
			if math.Abs(s.StartM-at) > 25 {
				t.Errorf("noise %g m: section %d starts at %g, built at %g", noise, i, s.StartM, at)
			}
			at += built[i].lengthM
		}
		if off := climbs[0].EndM - at; math.Abs(off) > 25 {
			t.Errorf("noise %g m: the top is %g m off", noise, off)
		}
		if g := climbs[0].MaxGradientPct; math.Abs(g-15) > 1 {
			t.Errorf("noise %g m: maximum %g %%", noise, g)
		}
	}
}

// Declared laps: every climb and descent of the lap is ridden on each of them.
func TestDeclaredLaps(t *testing.T) {
	lap := ramps(50, ramp{1500, 0}, ramp{1000, 6}, ramp{1000, -6}, ramp{700, 0}, ramp{400, 8}, ramp{400, -8}, ramp{500, 0}).every(10)
	c, err := course.FromProfile(context.Background(), lap.s, lap.z, course.Options{Smoothing: course.None, Laps: 5, AscentThresholdM: 1})
	if err != nil {
		t.Fatal(err)
	}
	got := dissect(c)
	if len(got.Climbs) != 2 || len(got.Descents) != 2 {
		t.Fatalf("got %d climbs, %d descents", len(got.Climbs), len(got.Descents))
	}
	for _, climb := range got.Climbs {
		if len(climb.Passes) != 5 {
			t.Errorf("%s: %s", climb.ID, bounds(climb.Passes))
		}
		for i, p := range climb.Passes {
			at := climb.StartM + float64(i)*lap.lengthM()
			if p.Lap != i+1 || math.Abs(p.StartM-at) > 1e-6 || math.Abs(p.ToFinishM-(c.LengthM()-at)) > 1e-6 {
				t.Errorf("%s, pass %d: %+v", climb.ID, i+1, p)
			}
		}
	}
	// Four laps of 92 m and the first climb of the fifth.
	if want := (4*92 + 60) / (5 * 92.0); math.Abs(got.Climbing.ShareBeforeLastClimb-want) > 1e-9 {
		t.Errorf("share before the last climb %g, want %g", got.Climbing.ShareBeforeLastClimb, want)
	}
}

// Sections of climbs of two to five ramps of 300 m and more that differ by four points and
// more come out of noise of 0.3 m as they were built: their number in nine of ten, their
// bounds then within 40 m and their gradients within one point.
func TestSectionsThroughNoise(t *testing.T) {
	right := 0
	const climbs = 60
	for seed := range uint64(climbs) {
		rng := rand.New(rand.NewPCG(seed, 9))
		var built []ramp
		for range 2 + rng.IntN(4) {
			pct := 4 + 9*rng.Float64()
			for len(built) > 0 && math.Abs(pct-built[len(built)-1].pct) < 4 {
				pct = 4 + 9*rng.Float64()
			}
			built = append(built, ramp{300 + 900*rng.Float64(), pct})
		}
		p := ramps(300, append(append([]ramp{{1000, 0}}, built...), ramp{1500, -3})...).every(8)
		for i := range p.z {
			p.z[i] += 0.3 * rng.NormFloat64()
		}
		c, err := course.FromProfile(context.Background(), p.s, p.z, course.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		if sectionsAre(dissect(c).Climbs[0].Sections, built) {
			right++
		} else {
			t.Logf("seed %d: built %+v, told %+v", seed, built, dissect(c).Climbs[0].Sections)
		}
	}
	if right < climbs*9/10 {
		t.Errorf("%d of %d climbs are told as they were built", right, climbs)
	}
}

func sectionsAre(told []Stretch, built []ramp) bool {
	if len(told) != len(built) {
		return false
	}
	at := 1000.0
	for i, s := range told {
		if math.Abs(s.StartM-at) > 40 || math.Abs(s.MeanGradientPct-built[i].pct) > 1 {
			return false
		}
		at += built[i].lengthM
	}
	return true
}
