package calibrate

import (
	"context"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/ride"
	"parcours.example/internal/seeded"
)

// trial is a simulated ride of a known rider.
type trial struct {
	kind     coursegen.Kind
	session  *Session
	cda, crr float64
}

// assumedCrrSD is how far off the Crr is that is assumed, which is the default of its
// uncertainty.
const assumedCrrSD = 0.0005

// newTrial draws a course of up to 60 km, a rider, a set-up, a wind of 0 to 3 m/s that is
// told, an uneven power, and a Crr to assume that is about right. ok is false where the rider can't climb the course.
func newTrial(t *testing.T, seed uint64, n noise, lees ...wake) (tr trial, rng *rand.Rand, ok bool) {
	t.Helper()
	rng = rand.New(rand.NewPCG(seed, 1))
	kinds := coursegen.Kinds()
	tr.kind = kinds[int(seed%uint64(len(kinds)))]
	w := newWorld(t, tr.kind, n, seed, 60000)
	who, on, c := rider(60+25*rng.Float64()), setup(), conditions()
	tr.cda, tr.crr = 0.22+0.16*rng.Float64(), 0.003+0.003*rng.Float64()
	on.CdAM2, on.Crr = tr.cda, tr.crr
	c.WindMps, c.WindFromDeg = 3*rng.Float64(), 360*rng.Float64()
	tr.session = w.simulated(t, who, on, c, uneven(rng, w.true.LengthM(), 200+80*rng.Float64(), 0.4, 1.6), n, rng, w.along(lees)...)
	if tr.session == nil {
		return tr, rng, false
	}
	tr.session.Setup.Crr = max(tr.crr+assumedCrrSD*rng.NormFloat64(), 0)
	return tr, rng, true
}

// share counts cases and those in which something holds.
type share struct{ held, cases int }

func (s *share) add(holds bool) {
	s.cases++
	if holds {
		s.held++
	}
}

// demand fails unless the share lies between two bounds. Outside the full form there are
// few cases, and they may lie as far outside as chance explains: three standard deviations.
func (s *share) demand(t *testing.T, what string, least, most float64) {
	t.Helper()
	t.Logf("%s: %d of %d", what, s.held, s.cases)
	n := float64(s.cases)
	if s.cases == 0 {
		return // with few seeds none may be of the kind
	}
	if os.Getenv("PARCOURS_FULL") != "1" {
		least -= 3 * math.Sqrt(least*(1-least)/n)
		most += 3 * math.Sqrt(most*(1-most)/n)
	}
	if got := float64(s.held) / n; got < least || got > most {
		t.Errorf("%s: %.1f %% of %d cases, want %.1f to %.1f %%", what, 100*got, s.cases, 100*least, 100*most)
	}
}

// TestRecovered rides known riders over random courses in a told wind, with realistic
// errors. Where the design of the ride determines a value, which is decided without looking
// at what came out, drag is within 3 % and rolling within 10 % in 95 % of the rides; the
// stated errors hold everywhere.
func TestRecovered(t *testing.T) {
	seed := seeded.First(t)
	var drag, rolling, covered, determined share
	for i := range uint64(seeded.Cases(500)) {
		tr, _, ok := newTrial(t, seed+i, realistic())
		if !ok {
			continue
		}
		e, err := Fit(context.Background(), []Session{*tr.session}, exact())
		if err != nil {
			t.Logf("seed %d: %v", seed+i, err)
			continue
		}
		byDrag, byRolling := e.CdAM2/tr.cda-1, e.Crr/tr.crr-1
		determined.add(e.DragDetermined)
		if e.DragDetermined {
			drag.add(math.Abs(byDrag) <= 0.03)
		}
		if e.RollingDetermined {
			rolling.add(math.Abs(byRolling) <= 0.10)
		}
		if !e.CrrAssumed {
			covered.add(math.Abs(e.CdAM2-tr.cda) <= 2*e.CdASE)
			covered.add(math.Abs(e.Crr-tr.crr) <= 2*e.CrrSE)
		}
		if (e.DragDetermined && math.Abs(byDrag) > 0.03) || (e.RollingDetermined && math.Abs(byRolling) > 0.10) {
			t.Logf("seed %d, %v: drag %+.1f %%, rolling %+.1f %%", seed+i, tr.kind, 100*byDrag, 100*byRolling)
		}
	}
	determined.demand(t, "drag determined", 0.4, 1)
	drag.demand(t, "drag within 3 % where determined", 0.95, 1)
	rolling.demand(t, "rolling within 10 % where determined", 0.95, 1)
	covered.demand(t, "true values within 2 standard errors", 0.90, 0.98)
}

// TestExactRides: without errors in the recording what is found is what was ridden.
func TestExactRides(t *testing.T) {
	none := noise{file: coursegen.Noise{SpacingM: 10}}
	tr, _, ok := newTrial(t, 20261, none)
	if !ok {
		t.Fatal("the rider can't climb the course")
	}
	e, err := Fit(context.Background(), []Session{*tr.session}, exact())
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(e.CdAM2/tr.cda-1) > 0.002 || math.Abs(e.Crr/tr.crr-1) > 0.005 {
		t.Errorf("found %.4f m² and %.5f, ridden with %.4f and %.5f", e.CdAM2, e.Crr, tr.cda, tr.crr)
	}
}

// TestWindFound gives the fit a forecast that is off by 1 m/s in each component, and has
// the wind sought within that.
func TestWindFound(t *testing.T) {
	seed := seeded.First(t)
	var covered, drag, wind share
	for i := range uint64(seeded.Cases(80)) {
		tr, rng, ok := newTrial(t, seed+7000+i, realistic())
		if !ok {
			continue
		}
		c := &tr.session.Conditions
		sin, cos := math.Sincos(c.WindFromDeg * math.Pi / 180)
		north, east := c.WindMps*cos, c.WindMps*sin
		toldNorth, toldEast := north+rng.NormFloat64(), east+rng.NormFloat64()
		c.WindMps, c.WindFromDeg = math.Hypot(toldNorth, toldEast), math.Mod(math.Atan2(toldEast, toldNorth)*180/math.Pi+360, 360)
		opt := exact()
		opt.Wind, opt.Uncertainties.WindMps = true, 1
		e, err := Fit(context.Background(), []Session{*tr.session}, opt)
		if err != nil {
			t.Logf("seed %d: %v", seed+i, err)
			continue
		}
		if e.DragDetermined {
			drag.add(math.Abs(e.CdAM2/tr.cda-1) <= 0.03)
		}
		if !e.CrrAssumed {
			covered.add(math.Abs(e.CdAM2-tr.cda) <= 2*e.CdASE)
			covered.add(math.Abs(e.Crr-tr.crr) <= 2*e.CrrSE)
		}
		w := e.Winds[0]
		sin, cos = math.Sincos(w.WindFromDeg * math.Pi / 180)
		wind.add(math.Abs(w.WindMps*cos-north) <= 2*w.NorthSE)
		wind.add(math.Abs(w.WindMps*sin-east) <= 2*w.EastSE)
	}
	drag.demand(t, "drag within 3 % where determined", 0.95, 1)
	covered.demand(t, "true values within 2 standard errors", 0.90, 0.98)
	wind.demand(t, "true wind within 2 standard errors", 0.88, 0.99)
}

// TestRollingAssumed: on a flat road at one speed drag can't be told from rolling. The
// answer says so, holds for an assumed Crr, and a second speed is advised.
func TestRollingAssumed(t *testing.T) {
	s := flat(t, 12000, ride.Effort{Kind: ride.ByPower, PowerW: 220}, 0.3, 0.004)
	e, err := Fit(context.Background(), []Session{*s}, exact())
	if err != nil {
		t.Fatal(err)
	}
	if !e.CrrAssumed || e.RollingDetermined || e.Crr != 0.004 || e.Correlation != 0 {
		t.Errorf("Crr %v ± %v, assumed %v", e.Crr, e.CrrSE, e.CrrAssumed)
	}
	if math.Abs(e.CdAM2/0.3-1) > 0.03 {
		t.Errorf("drag area %.4f m² at the true Crr, want 0.3", e.CdAM2)
	}
	if len(e.Notes) == 0 || e.Notes[0].Code != NoteRollingAssumed {
		t.Errorf("notes %v", e.Notes)
	}
	if len(e.Advice) == 0 || e.Advice[0].Kind != Slower || e.Advice[0].CrrAssumed {
		t.Errorf("advice %+v", e.Advice)
	}
}

// flat is a ride along a straight level road without positions, with realistic errors.
func flat(t *testing.T, lengthM float64, e ride.Effort, cda, crr float64) *Session {
	t.Helper()
	var at, z []float64
	for s := 0.0; s <= lengthM; s += 10 {
		at, z = append(at, s), append(z, 100)
	}
	c, err := course.FromProfile(context.Background(), at, z, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	on := setup()
	on.CdAM2, on.Crr = cda, crr
	s := world{c, c}.simulated(t, rider(75), on, conditions(), e, realistic(), rand.New(rand.NewPCG(5, 5)))
	s.Setup.Crr = crr
	return s
}
