package aid

import (
	"math"
	"testing"

	"parcours.example/analysis/shelter"
)

// At steady speed the wheel costs (f′ − f)·½ρCdA·v²·v/η more.
func TestWheelInClosedForm(t *testing.T) {
	s := scene(t, road(t, 8_000, level), 300)
	for _, left := range []float64{0, 0.5} {
		a := wakeAid()
		a.WakeFactor = left
		u := at(t, s, a, 4_000)
		v := u.SpeedMps
		lee := shelter.Gap(s.GapM)
		denied := 1 - left*(1-lee)
		drag := s.Ride.Bike.On(&s.Road.Pieces[0])
		near(t, "the power", u.Follower.AddedW, (denied-lee)*drag.Aero(v)*v/s.Ride.Bike.Efficiency, 0.05)
		near(t, "the work", u.Follower.AddedJ, u.Follower.AddedW*a.DurationS, 1e-6)
	}
}

// For a short while the gap opens by ½·Δa·t².
func TestGapInClosedForm(t *testing.T) {
	s := scene(t, road(t, 8_000, level), 300)
	a := wakeAid()
	a.DurationS = 2
	u := at(t, s, a, 4_000)
	drag := s.Ride.Bike.On(&s.Road.Pieces[0])
	want := (1 - shelter.Gap(s.GapM)) * drag.Aero(u.SpeedMps) / s.Ride.Bike.InertiaKg * 2 * 2 / 2
	near(t, "the gap", u.Follower.OpensM, want, 0.05*want)
	near(t, "the loss", u.Follower.LostS, u.Follower.OpensM/u.SpeedMps, 0.02*u.Follower.LostS)
}

// A wake that shelters as ever costs nobody anything; the more it denies the more it does,
// and more at speed than on a climb.
func TestWhatTheWakeDenies(t *testing.T) {
	s := scene(t, road(t, 12_000, hilly), 250)
	lost := func(left, atM float64) *Follower {
		a := wakeAid()
		a.WakeFactor = left
		f, err := newTrial(s, &a).follower(t.Context(), atM)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	for _, atM := range []float64{500, 2_000, 5_500, 8_000, 11_950} {
		if f := lost(1, atM); math.Abs(f.AddedW) > 1e-6 || f.OpensM > 0.02 {
			t.Errorf("a wake as ever costs %+v at %v m", f, atM)
		}
		if half, all := lost(0.5, atM), lost(0, atM); !(all.AddedW >= half.AddedW && all.OpensM > half.OpensM) {
			t.Errorf("denying all of it costs %+v, half %+v at %v m", all, half, atM)
		}
	}
	if flat, climb := lost(0, 2_000), lost(0, 5_500); flat.AddedW < 10*climb.AddedW || flat.LostS < 3*climb.LostS {
		t.Errorf("flat %+v, climb %+v", flat, climb)
	}
}

// A follower of one who has an aid must follow its speed too.
func TestFollowerOfAFasterUser(t *testing.T) {
	s := scene(t, road(t, 8_000, level), 300)
	wake, both := wakeAid(), wakeAid()
	both.DragFactor = 0.7
	one, two := at(t, s, wake, 4_000).Follower, at(t, s, both, 4_000).Follower
	if !(two.AddedW > one.AddedW+20 && two.OpensM > one.OpensM+1) {
		t.Errorf("%+v, with less drag of the user %+v", one, two)
	}
}

// On hills a long aid gives figures all along, though who is left behind may halt.
func TestALongWakeOverHills(t *testing.T) {
	s := scene(t, road(t, 20_000, func(x float64) float64 { return 200 + 40*math.Sin(x/500) + 9*math.Sin(x/143) }), 230)
	a := wakeAid()
	a.DurationS, a.DragFactor = 600, 0.75
	for _, u := range found(t, s, a).Samples {
		if f := u.Follower; !(f.AddedW >= 0 && f.OpensM >= 0 && f.LostS >= 0) || math.IsInf(f.AddedW+f.OpensM+f.LostS, 0) {
			t.Fatalf("at %v m: %+v", u.AtM, f)
		}
	}
}
