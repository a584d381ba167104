package terrain

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/course"
)

// The index of climbs that cycling magazines publish, H²/(10·D) + max(0, (T −
// 1000)/1000) (magazine Fiets; the formula from memory, the values computed from it
// by hand), for real roads. Lengths, heights and mean gradients as published: Alpe
// d'Huez by a magazine and by a climb page, Mont Ventoux from Bédoin by an
// encyclopedic text, Stelvio from Prato by a newspaper's archive, Mortirolo from
// Mazzo by the tourist office of Bormio, Angliru by a road guide, Zoncolan from
// Ovaro from memory. Published mean gradients differ from height over length by up
// to 0.15 points, because their feet are chosen differently.
func TestRealRoads(t *testing.T) {
	for _, road := range []struct {
		name                     string
		lengthM, gainM, topM     float64
		meanPct, index, tolerant float64
	}{
		{"Alpe d'Huez, 744 to 1815 m", 13200, 1071, 1815, 8.1, 9.50, 0.15},
		{"Alpe d'Huez, 725 to 1860 m", 13800, 1135, 1860, 8.1, 10.19, 0.15},
		{"Mont Ventoux from Bédoin", 21800, 1617, 1910, 7.43, 12.90, 0.15},
		{"Stelvio from Prato", 24300, 1808, 2758, 7.4, 15.21, 0.15},
		{"Mortirolo from Mazzo", 12500, 1300, 1852, 10.5, 14.37, 0.15},
		{"Angliru", 12500, 1266, 1573, 10.13, 13.40, 0.15},
		{"Zoncolan from Ovaro, from memory", 10100, 1203, 1735, 11.9, 15.06, 0.15},
	} {
		p := ramps(road.topM-road.gainM, ramp{road.lengthM, 100 * road.gainM / road.lengthM}).every(10)
		climbs := dissect(p.course()).Climbs
		if len(climbs) != 1 {
			t.Errorf("%s: %d climbs", road.name, len(climbs))
			continue
		}
		c := climbs[0]
		t.Logf("%s: index %.2f, mean %.2f %%", road.name, c.Difficulty.H2Index, c.MeanGradientPct)
		if math.Abs(c.Difficulty.H2Index-road.index) > 0.005+1e-9 {
			t.Errorf("%s: index %.3f, published formula gives %.2f", road.name, c.Difficulty.H2Index, road.index)
		}
		if math.Abs(c.MeanGradientPct-road.meanPct) > road.tolerant {
			t.Errorf("%s: mean gradient %.2f, published %.2f", road.name, c.MeanGradientPct, road.meanPct)
		}
		if math.Abs(c.Difficulty.WorkAgainstGravityJPerKg-9.80665*road.gainM) > 1e-6 {
			t.Errorf("%s: work %.1f J/kg", road.name, c.Difficulty.WorkAgainstGravityJPerKg)
		}
	}
}

// Parts of two of these roads as published: Mont Ventoux 5.8 km at 3.9 % and 16 km
// at 8.9 % (an encyclopedic text); Angliru 5 km at 7.6 %, 1 km at 2.1 % and 6.5 km at
// 13.1 % (a road guide). A rider's telling has these parts as sections.
func TestSectionsOfRealRoads(t *testing.T) {
	for _, road := range []struct {
		name string
		of   []ramp
	}{
		{"Mont Ventoux", []ramp{{5800, 3.9}, {16000, 8.9}}},
		{"Angliru", []ramp{{5000, 7.6}, {1000, 2.1}, {6500, 13.1}}},
	} {
		climbs := dissect(ramps(300, road.of...).every(10).course()).Climbs
		got := climbs[0].Sections
		if len(got) != len(road.of) {
			t.Errorf("%s: %+v", road.name, got)
			continue
		}
		for i, s := range got {
			if math.Abs(s.LengthM()-road.of[i].lengthM) > 20 || math.Abs(s.MeanGradientPct-road.of[i].pct) > 0.1 {
				t.Errorf("%s, section %d: %+v", road.name, i, s)
			}
		}
	}
}

// Where the definition puts the foot and the top of climbs whose parts are published,
// with valley roads of 0.5 to 1.5 % before them and a descent after them, recorded with
// noise of 0.3 m: length within the 5 % by which published lengths of one climb differ
// (Alpe d'Huez 13.2 to 13.8 km by a magazine and by a climb page), gain within the spread
// of the sources (Mont Ventoux 1617 m published, 1650 m by its parts; Angliru 1266 and
// 1252 m) and the mean gradient with them. Published maxima of one road differ by more
// than 2 points because nobody says over which length: ours are told for 25 m and more.
func TestFeetOfRealRoads(t *testing.T) {
	for _, road := range []struct {
		name                  string
		of                    []ramp
		lengthM, lowM, highM  float64
		leastPct, greatestPct float64
	}{
		{"Mont Ventoux from Bédoin", []ramp{{5800, 3.9}, {16000, 8.9}}, 21800, 1617, 1650, 7.4, 7.6},
		{"Angliru", []ramp{{5000, 7.6}, {1000, 2.1}, {6500, 13.1}}, 12500, 1252, 1266, 10.0, 10.2},
		{"Alpe d'Huez", []ramp{{13200, 8.11}}, 13200, 1071, 1135, 8.05, 8.3},
	} {
		for _, valleyPct := range []float64{0.5, 1, 1.5} {
			p := ramps(400, append(append([]ramp{{6000, valleyPct}}, road.of...), ramp{5000, -6})...).every(8)
			rng := rand.New(rand.NewPCG(10, 10))
			for i := range p.z {
				p.z[i] += 0.3 * rng.NormFloat64()
			}
			c, err := course.FromProfile(context.Background(), p.s, p.z, course.Defaults())
			if err != nil {
				t.Fatal(err)
			}
			got := dissect(c)
			if got.Climbs[0].ParentID != "" || got.MaxWindowM != 25 {
				t.Fatalf("%s: %+v, maxima over %g m", road.name, got.Climbs[0], got.MaxWindowM)
			}
			k := got.Climbs[0]
			t.Logf("%s after %g %%: %.0f m, %.0f m up, %.2f %%, index %.2f", road.name, valleyPct, k.LengthM(), k.GainM, k.MeanGradientPct, k.Difficulty.H2Index)
			if math.Abs(k.LengthM()/road.lengthM-1) > 0.05 || k.GainM < road.lowM-3 || k.GainM > road.highM+3 ||
				k.MeanGradientPct < road.leastPct || k.MeanGradientPct > road.greatestPct {
				t.Errorf("%s after %g %%: %.0f m, %.0f m up at %.2f %%", road.name, valleyPct, k.LengthM(), k.GainM, k.MeanGradientPct)
			}
			for _, other := range got.Climbs[1:] {
				if other.ParentID != k.ID {
					t.Errorf("%s: another climb %+v", road.name, other.Stretch)
				}
			}
		}
	}
}

// Common practice: a course that ends on a climb can hold about three quarters of
// its ascent before that climb.
func TestThreeQuartersOfTheAscentBeforeTheLastClimb(t *testing.T) {
	var of []ramp
	for range 15 { // rolling: 15 rises of 30 m
		of = append(of, ramp{600, 5}, ramp{600, -5}, ramp{1500, 0})
	}
	of = append(of, ramp{2500, 6})
	got := dissect(ramps(100, of...).every(10).course())
	last := got.Climbs[len(got.Climbs)-1]
	if !last.EndsAtFinish || math.Abs(got.Climbing.ShareBeforeLastClimb-0.75) > 1e-6 {
		t.Errorf("share %g, last climb %+v", got.Climbing.ShareBeforeLastClimb, last.Stretch)
	}
}

// Common practice: a finishing climb that averages 6 to 7 % can hold three sections
// with pitches of 17 to 19 %; a telling that loses them is wrong.
func TestThreePitchesOfAFinishingClimb(t *testing.T) {
	p := ramps(100, ramp{3000, 0},
		ramp{600, 4.5}, ramp{80, 17}, ramp{500, 4.5}, ramp{70, 19}, ramp{500, 4.5}, ramp{90, 18}, ramp{300, 4.5})
	climbs := dissect(p.every(10).course()).Climbs
	c := climbs[0]
	steep := 0
	for _, s := range c.Sections {
		t.Logf("%4.0f m at %4.1f %%, up to %4.1f %%", s.LengthM(), s.MeanGradientPct, s.MaxGradientPct)
		if s.MaxGradientPct >= 17-1e-6 && s.MaxGradientPct <= 19+1e-6 {
			steep++
		}
	}
	if c.MeanGradientPct < 6 || c.MeanGradientPct > 7 || !c.EndsAtFinish || steep < 3 {
		t.Errorf("mean %.2f %%, %d sections with such a pitch", c.MeanGradientPct, steep)
	}
	if c.MaxGradientPct < 19-1e-6 {
		t.Errorf("steepest %.1f %%", c.MaxGradientPct)
	}
}
