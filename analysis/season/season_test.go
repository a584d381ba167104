package season_test

import (
	"context"
	"math"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/season"
	"parcours.example/analysis/terrain"
)

// figuresOf are those of a table of distance and elevation.
func figuresOf(t *testing.T, distanceM, elevationM []float64) season.Figures {
	t.Helper()
	opt := course.Defaults()
	opt.Smoothing = course.None
	c, err := course.FromProfile(context.Background(), distanceM, elevationM, opt)
	if err != nil {
		t.Fatal(err)
	}
	dissected, err := terrain.Analyse(context.Background(), c)
	if err != nil {
		t.Fatal(err)
	}
	return season.FiguresOf(c, dissected)
}

func TestDecisivePlace(t *testing.T) {
	unknown := math.NaN()
	for _, x := range []struct {
		name                  string
		distanceM, elevationM []float64
		climb                 bool
		startM                float64
		why                   string
	}{
		{"no elevation", []float64{0, 5000}, []float64{unknown, unknown}, false, 4700, "The finish, as far as is known: the file has no elevation."},
		{"flat", []float64{0, 5000}, []float64{3, 3}, false, 4700, "The finish: there is no climb."},
		{"a hill to the line", []float64{0, 2000, 7000}, []float64{20, 20, 320}, true, 2000, "The climb at 2.00 km: 300 m up in 5.0 km at 6.0 %, its top at the finish."},
		{
			"a smaller one later weighs more",
			[]float64{0, 2000, 4000, 6000, 30_000, 32_000, 33_000},
			[]float64{0, 120, 0, 0, 0, 90, 90},
			true, 30_000,
			"The climb at 30.00 km: 90 m up in 2.0 km at 4.5 %, its top 1.0 km before the finish.",
		},
		{
			"a larger one soon before",
			[]float64{0, 2000, 4000, 6000, 8000, 9000},
			[]float64{0, 150, 0, 0, 80, 80},
			true, 0,
			"The climb at 0.00 km: 150 m up in 2.0 km at 7.5 %, its top 7.0 km before the finish.",
		},
		{
			"too far off",
			[]float64{0, 1000, 2000, 60_000},
			[]float64{0, 60, 0, 0},
			false, 59_700,
			"The finish: the climb that weighs most gains 60 m and has its top 59.0 km before it.",
		},
	} {
		d := figuresOf(t, x.distanceM, x.elevationM).Decisive
		if (d.ClimbID != "") != x.climb || math.Abs(d.StartM-x.startM) > 30 || d.Why != x.why {
			t.Errorf("%s: at %.0f m: %s", x.name, d.StartM, d.Why)
		}
	}
}

// The weight of a climb is its gain where its top is the finish, and half of it 10 km before.
func TestWeight(t *testing.T) {
	top := figuresOf(t, []float64{0, 2000}, []float64{0, 120}).Decisive
	before := figuresOf(t, []float64{0, 2000, 12_000}, []float64{0, 120, 120}).Decisive
	if math.Abs(top.WeightM-120) > 0.5 || math.Abs(before.WeightM-60) > 0.5 {
		t.Errorf("%v and %v, want 120 and 60", top.WeightM, before.WeightM)
	}
}

// A round that a rider doesn't finish counts for nobody, and says so; a rider who finishes none
// keeps nobody from being counted.
func TestRoundsThatDoNotCount(t *testing.T) {
	time := func(rider int, s float64) season.Ride {
		return season.Ride{RiderIndex: rider, TimeS: s, PowerW: 200, MassKg: 80, CdAM2: 0.3}
	}
	without := func(rider int) season.Ride {
		return season.Ride{RiderIndex: rider, TimeS: math.NaN(), Code: "cannot-climb"}
	}
	rounds := []season.Round{
		{Rides: []season.Ride{time(0, 100), time(1, 110), without(2)}},
		{Rides: []season.Ride{time(0, 100), without(1), without(2)}},
		{Rides: []season.Ride{time(0, 100), time(1, 90), without(2)}},
	}
	c := season.Compare([]string{"Nour", "Bram", "Isa"}, rounds)
	if c.Rounds[1].LeftOut != "Bram has no time here." || c.Rounds[0].LeftOut+c.Rounds[2].LeftOut != "" {
		t.Errorf("%+v", c.Rounds)
	}
	nour, bram, isa := c.Riders[0], c.Riders[1], c.Riders[2]
	if nour.TotalS != 200 || bram.TotalS != 200 || nour.Counted != 2 || nour.BehindS != 0 || !math.IsNaN(isa.TotalS) || isa.Times[0].Code != "cannot-climb" {
		t.Errorf("%v s, %v s, %v s", nour.TotalS, bram.TotalS, isa.TotalS)
	}
	if !math.IsNaN(nour.Times[1].SuitabilityPct) || nour.Times[0].SuitabilityPct <= 0 || bram.Times[2].SuitabilityPct <= 0 || nour.Times[0].Place != 1 || bram.Times[0].Place != 2 {
		t.Errorf("%+v\n%+v", nour.Times, bram.Times)
	}
	all := season.Compare([]string{"Nour"}, []season.Round{{Rides: []season.Ride{without(0)}}})
	if all.Rounds[0].LeftOut != "No rider has a time in any round." {
		t.Errorf("%q", all.Rounds[0].LeftOut)
	}
}

// A rider counts with the fastest set-up that lasts, of equal ones with the first.
func TestFastestSetupCounts(t *testing.T) {
	ride := func(setup int, s float64) season.Ride { return season.Ride{SetupIndex: setup, TimeS: s} }
	c := season.Compare([]string{"Nour"}, []season.Round{{Rides: []season.Ride{ride(0, math.NaN()), ride(2, 90), ride(1, 90), ride(3, 95)}}})
	if got := c.Riders[0].Times[0]; got.SetupIndex != 1 || got.TimeS != 90 {
		t.Errorf("%+v", got)
	}
}

func TestRanks(t *testing.T) {
	rounds := []season.Round{
		{Figures: season.Figures{LengthM: 5000, AscentM: 100, H2Index: 2, RollingMPerKm: 5}},
		{Figures: season.Figures{LengthM: 9000, AscentM: 100, H2Index: 1, RollingMPerKm: 7}},
		{Figures: season.Figures{LengthM: 7000, AscentM: math.NaN(), H2Index: math.NaN(), RollingMPerKm: math.NaN()}},
	}
	want := []season.Ranks{{3, 1, 1, 1, 2}, {1, 1, 2, 2, 1}, {2, 0, 0, 0, 0}}
	for j, r := range season.Compare(nil, rounds).Rounds {
		if r.Ranks != want[j] || r.LeftOut != "" {
			t.Errorf("round %d: %+v, want %+v", j, r.Ranks, want[j])
		}
	}
}
