package choice

import (
	"math"
	"testing"

	"parcours.example/analysis/ride"
)

// Of several crossings the one nearest to the rider's own value is told.
func TestTheNearestBracket(t *testing.T) {
	gaps := []float64{1, -1, -2, 1, 0, 0}
	var c curve
	for i, g := range gaps {
		c.nodes = append(c.nodes, node{float64(i), []float64{g}})
	}
	for own, want := range map[float64]int{0: 0, 1.2: 0, 2.4: 2, 3.4: 3, 5: 3} {
		c.own = own
		if got := c.bracket(0); got != want {
			t.Errorf("near %v: bracket %d, not %d", own, got, want)
		}
	}
	if c.nodes = c.nodes[4:]; c.bracket(0) != -1 {
		t.Error("where there never is a gap there is a crossing")
	}
}

// An estimate that creeps is passed by half of its last move, but not out of its bracket.
func TestBeyondAnEstimate(t *testing.T) {
	c := curve{nodes: []node{{x: 0}, {x: 10}}}
	for _, x := range [][3]float64{{4, 2, 5}, {4, 6, 3}, {9, 5, 9}, {1, 4, 1}} {
		if got := c.beyond(0, x[0], x[1]); got != x[2] {
			t.Errorf("beyond %v after %v: %v, not %v", x[0], x[1], got, x[2])
		}
	}
}

// Other riders ride at the same power per mass, and with the drag of their size, whoever
// gives it.
func TestRidersOfAnotherMass(t *testing.T) {
	road := mustRoad(t, slope(1000, 0), conditions())
	a := axis{quantity: RiderMass, own: 70}
	r := rider(70)
	v := a.at(84, road, r)
	near(t, "share of the power", v.share, 1.2, 1e-12)
	near(t, "estimated drag area", v.rider.CdAM2, ride.EstimateDragArea(ride.TypicalHeightM, 84), 1e-12)
	r.CdAM2, r.HeightM = 0.28, 1.7
	v = a.at(84, road, r)
	grown := ride.FrontalArea(1.7, 84) / ride.FrontalArea(1.7, 70)
	near(t, "given drag area", v.rider.CdAM2, 0.28*grown, 1e-12)
	s := setup("", 8, unknown)
	s.CdAM2 = 0.25
	near(t, "a set-up's drag area", v.setup(s).CdAM2, 0.25*grown, 1e-12)
	if v.rider.MassKg != 84 || !math.IsNaN(v.setup(setup("", 8, 0.01)).CdAM2) {
		t.Errorf("%+v", v)
	}
}

// A rider beyond the range that is searched widens it.
func TestRangesHoldTheRider(t *testing.T) {
	road := mustRoad(t, slope(2000, 0.03), conditions())
	for _, massKg := range []float64{34, 140, 250} {
		c := Case{Road: road, Rider: rider(massKg), Setups: []ride.Setup{setup("light", 6.5, 0), setup("smooth", 9.5, -0.03)}, Doubt: doubtless(), Quantities: []Quantity{RiderMass}, Ambitions: []Ambition{finish(road)}}
		if x := decide(t, c.at(t, 250)).Rankings[0].Crossings[0]; x.From != min(massKg, 40) || x.To != max(massKg, 120) {
			t.Errorf("%v kg: from %v to %v", massKg, x.From, x.To)
		}
	}
}

// A set-up with less drag and the same mass is the faster one on every gradient.
func TestOneIsFasterOnEveryGradient(t *testing.T) {
	road := mustRoad(t, slope(2000, 0.03), conditions())
	c := Case{Road: road, Rider: rider(70), Setups: []ride.Setup{setup("smooth", 8, -0.03), setup("rough", 8, 0)}, Doubt: doubtless(), Quantities: []Quantity{Gradient}, Ambitions: []Ambition{finish(road)}}
	c = c.at(t, 250)
	for _, order := range [][]int{{0, 1}, {1, 0}} {
		x := decide(t, reordered(c, order)).Rankings[0].Crossings[0]
		if smooth := order[0]; !math.IsNaN(x.At) || x.BetterBelow != smooth || x.BetterAbove != smooth {
			t.Errorf("%+v", x)
		}
	}
	// Also where heavy wheels make it the slower one from a standing start.
	c.Setups[0].WheelInertiaKgM2 = 2
	c.Road = mustRoad(t, slope(200, 0), conditions())
	c.Ambitions = []Ambition{finish(c.Road)}
	r := decide(t, c.at(t, 250)).Rankings[0]
	if x := r.Crossings[0]; r.Places[0].Setup != 1 || x.BetterBelow != 0 || x.BetterAbove != 0 {
		t.Errorf("%+v", r)
	}
}

// What the choice for one ambition costs at another is its gap in the ranking there; the
// measure is the mean of the passes.
func TestCostsAreGapsElsewhere(t *testing.T) {
	c, told := hilly(t, 240)
	c.Ambitions[0].Passes = append(c.Ambitions[0].Passes, Pass{18_000, 18_000})
	told.Verdict = decide(t, c.at(t, 240))
	for i, r := range told.Verdict.Rankings {
		for k, cost := range r.Costs {
			for _, p := range told.Verdict.Rankings[k].Places {
				if p.Setup == r.Places[0].Setup && p.Behind != cost {
					t.Errorf("the choice for %d costs %+v at %d, where it is %+v behind", i, cost, k, p.Behind)
				}
			}
		}
		for _, p := range r.Places {
			sum := 0.0
			for _, s := range p.PassesS {
				sum += s
			}
			near(t, "the measure", p.TimeS, sum/float64(len(p.PassesS)), 1e-9)
		}
	}
}

// A gap of less than a hundredth of a second is no gap, however sure the inputs are.
func TestAHundredthIsATie(t *testing.T) {
	road := mustRoad(t, slope(500, 0), conditions())
	c := Case{Road: road, Rider: rider(70), Setups: []ride.Setup{setup("a", 8, 0), setup("b", 8.001, 0)}, Doubt: doubtless(), Ambitions: []Ambition{finish(road)}}
	if g := decide(t, c.at(t, 250)).Rankings[0].Places[1].Behind; !(g.S > 0 && g.S < leastGapS && g.Tied) {
		t.Errorf("%+v", g)
	}
}

// Every change has its own doubt and its place among several; the bunch may be lost to the
// finish.
func TestChangesStandOnTheirOwn(t *testing.T) {
	foot, mill := Change{From: 0, To: 1, Spots: []Spot{{"a", 20_000}, {"b", 24_000}}, Stops: true}, Change{From: 1, To: 0, Spots: []Spot{{"c", 30_000}}, AloneM: 1e6, AloneShelter: 1}
	c, both := hilly(t, 240, foot, mill)
	_, alone := hilly(t, 240, mill)
	a, b := both.Verdict.Changes[1].Trials[0], alone.Verdict.Changes[0].Trials[0]
	if a.Gain != b.Gain || a.OpenedS != b.OpenedS || a.Gain.SDS == 0 {
		t.Errorf("%+v, alone %+v", a, b)
	}
	best := math.Inf(1)
	for _, r := range c.Rides {
		best = min(best, r.TimeS)
	}
	near(t, "what it saves against the fastest", a.OverBestS, best-a.TimeS, 1e-9)
}

// trace is a ride of some samples.
func trace(distanceM, timeS []float64) *ride.Trace {
	return &ride.Trace{DistanceM: distanceM, TimeS: timeS}
}

// The widest gap counts, and where that is closed; of a companion who has finished, the way
// that was still to go.
func TestTheWidestGap(t *testing.T) {
	stay := trace([]float64{0, 100, 200, 300, 400}, []float64{0, 10, 20, 30, 40})
	var trial Trial
	trial.open(stay, trace([]float64{0, 100, 200, 300, 400}, []float64{0, 12, 19, 35, 39}))
	if trial.OpenedS != 5 || trial.OpenedAtM != 300 || trial.OpenedM != 50 || math.Abs(trial.LevelAtM-(300+100*5.0/6)) > 1e-9 {
		t.Errorf("%+v", trial)
	}
	trial = Trial{AtM: 100}
	trial.open(stay, trace([]float64{0, 100, 200, 300, 400}, []float64{0, 10, 20, 40, 60}))
	if trial.OpenedS != 20 || trial.OpenedAtM != 400 || trial.OpenedM != 100 || !math.IsNaN(trial.LevelAtM) {
		t.Errorf("%+v", trial)
	}
}
