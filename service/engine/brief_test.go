package engine

import (
	"errors"
	"math"
	"strings"
	"testing"

	"parcours.example/analysis/brief"
	"parcours.example/analysis/ride"
)

// powered is a rider with a power of their own.
func powered(massKg, powerW float64) BriefRider {
	r := rider(massKg)
	r.PowerW = powerW
	return BriefRider{Rider: r}
}

func TestBrief(t *testing.T) {
	e := newEngine(t, Config{})
	r := BriefRequest{Course: fromFile(gpx("Oster loop", 200)), Conditions: UnstatedConditions()}
	alone, err := e.Brief(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(alone.Text, "Oster loop") || alone.Course.ID == "" {
		t.Errorf("course %q: %s", alone.Course.ID, alone.Text)
	}
	ada := powered(72, 250)
	ada.Name = "Ada"
	r.Riders = []BriefRider{ada}
	ridden, err := e.Brief(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(ridden.Text, "Ada") || len(ridden.Facts) <= len(alone.Facts) {
		t.Errorf("the rider isn't told of: %s", ridden.Text)
	}
}

func TestBriefRidersOwnPowerIsForWantOfACommonEffort(t *testing.T) {
	common := ride.Effort{Kind: ride.ByMass, WPerKg: 3}
	for _, tc := range []struct {
		rider  BriefRider
		common *ride.Effort
		want   ride.Effort
	}{
		{powered(72, 250), &common, common},
		{powered(72, 250), nil, ride.Effort{Kind: ride.ByOwnPower}},
		{BriefRider{Rider: rider(72), Best: true}, &common, ride.Effort{Kind: Best}},
		{powered(72, math.NaN()), &common, common},
	} {
		got, err := effortOf(0, tc.rider, tc.common)
		if err != nil || got.Kind != tc.want.Kind || got.WPerKg != tc.want.WPerKg {
			t.Errorf("%+v, %v; want %+v", got, err, tc.want)
		}
	}
}

func TestBriefRefusals(t *testing.T) {
	e := newEngine(t, Config{})
	r := BriefRequest{Course: fromProfile(100, 0), Conditions: UnstatedConditions(), MaxChars: brief.MinChars - 1}
	_, err := e.Brief(t.Context(), r)
	if codeOf(err) != CodeInvalid {
		t.Errorf("too short a limit: %v", err)
	}
	r.MaxChars = brief.MinChars
	if _, err := e.Brief(t.Context(), r); err != nil {
		t.Errorf("the shortest limit: %v", err)
	}
	r.Riders = []BriefRider{powered(72, math.NaN())}
	_, err = e.Brief(t.Context(), r)
	var asked *Error
	if !errors.As(err, &asked) || asked.Pointer != "#/effort" {
		t.Errorf("a rider without an effort: %#v", err)
	}
}

func TestBriefTellsWhoStops(t *testing.T) {
	e := newEngine(t, Config{})
	r := BriefRequest{Course: wall(), Conditions: UnstatedConditions(), Riders: []BriefRider{powered(80, 12)}}
	b, err := e.Brief(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.Text, "NaN") {
		t.Errorf("%s", b.Text)
	}
}

func TestRunsDryAt(t *testing.T) {
	for _, tc := range []struct {
		balance []float64
		want    float64
	}{
		{nil, math.NaN()},
		{[]float64{100, 50, 0}, math.NaN()},
		{[]float64{100, 50, -50}, 150},
		{[]float64{-1, -2, -3}, 0},
	} {
		got := runsDryAt(ride.Trace{DistanceM: []float64{0, 100, 200}, WBalanceJ: tc.balance})
		if got != tc.want && !(math.IsNaN(got) && math.IsNaN(tc.want)) {
			t.Errorf("%v: %v, want %v", tc.balance, got, tc.want)
		}
	}
}
