package choice

import (
	"math"
	"testing"

	"parcours.example/analysis/ride"
)

// Checks against the world. "Computed" marks values worked out from the stated equation
// with other programs, "from memory" values whose source wasn't at hand.

// martin is a set-up as Jeukendrup & Martin 2001 have it: no drag of the wheels alone, Crr
// 0.0032, efficiency 0.976, bearings after Martin et al. 1998.
func martin(name string, massKg, cdaM2 float64) ride.Setup {
	s := setup(name, massKg, unknown)
	s.CdAM2, s.Crr, s.DrivetrainEfficiency, s.WheelDragAreaM2 = cdaM2, 0.0032, 0.976, 0
	return s
}

// Jeukendrup & Martin 2001, Sports Med. 31:559–569: seconds behind the best position over
// 40 km (their table; the four drag areas from memory), within 3 %, and behind a bicycle
// lighter by 3 kg over 20 km at 6 %, within 2 %. Their speeds are steady, as these rides
// are from the start on at the steady speed of a rider in between.
func TestJeukendrupMartin2001AsComparisons(t *testing.T) {
	cond := conditions()
	cond.AirDensityKgM3 = 1.2234
	for power, saved := range map[float64]struct {
		positions [3]float64
		byMass    float64
		flatMps   float64
		climbMps  float64
	}{
		164: {[3]float64{226, 409, 561}, 218, 9.2, 3.0}, 289: {[3]float64{186, 336, 462}, 112, 11.3, 4.9}, 394: {[3]float64{167, 299, 414}, 75, 12.6, 6.3},
	} {
		cond.StartSpeedMps = saved.flatMps
		road := mustRoad(t, slope(40_000, 0), cond)
		c := Case{Road: road, Rider: rider(70), Doubt: doubtful(road), Ambitions: []Ambition{finish(road)}, Setups: []ride.Setup{
			martin("hoods", 10, 0.358), martin("drops", 10, 0.307), martin("bars", 10, 0.269), martin("best bars", 10, 0.240),
		}}
		places := decide(t, c.at(t, power)).Rankings[0].Places
		if first := c.Setups[places[0].Setup].Name; first != "best bars" || c.Setups[places[3].Setup].Name != "hoods" {
			t.Errorf("the fastest is %s", first)
		}
		hoods := places[3].TimeS
		for i, want := range saved.positions {
			near(t, "seconds saved by position", hoods-places[2-i].TimeS, want, 0.03*want)
			if places[2-i].Behind.Tied != (i == 2) {
				t.Errorf("%v s behind, tied: %v", places[2-i].Behind.S, places[2-i].Behind.Tied)
			}
		}
		cond.StartSpeedMps = saved.climbMps
		road = mustRoad(t, slope(20_000*math.Cos(math.Atan(0.06)), 0.06), cond)
		c = Case{Road: road, Rider: rider(70), Doubt: doubtful(road), Ambitions: []Ambition{finish(road)}, Setups: []ride.Setup{
			martin("heavy", 10, 0.269), martin("light", 7, 0.269),
		}}
		places = decide(t, c.at(t, power)).Rankings[0].Places
		near(t, "seconds saved by mass", places[1].Behind.S, saved.byMass, 0.02*saved.byMass)
	}
}

// On a steady road two set-ups of one efficiency are equally fast where their forces are
// equal: with s = sin θ, c = cos θ,
//
//	½ρ·Δ(CdA)·v² + Δ(Crr·m)·g·c + Δm·g·s = 0
//
// whose left side is linear in s and c. With R the length of the vector of their factors, θ
// is closed in v, and so is the power. The crossing at that power must be that gradient,
// to 0.01 points.
func TestCrossingGradientInClosedForm(t *testing.T) {
	const g, density, efficiency = 9.80665, 1.2, 0.977
	cond := conditions()
	cond.AirDensityKgM3 = density
	checked := 0
	for _, v := range []float64{3, 5, 7, 9, 11} {
		for _, lighterKg := range []float64{0.8, 2, 4} {
			light, smooth := setup("light", 9-lighterKg, unknown), setup("smooth", 9, unknown)
			light.CdAM2, smooth.CdAM2 = 0.33, 0.30
			light.Crr, smooth.Crr = 0.0040, 0.0043
			m := [2]float64{70 + light.MassKg, 70 + smooth.MassKg}
			drag := 0.5 * density * (light.CdAM2 - smooth.CdAM2) * v * v
			onCos, onSin := (light.Crr*m[0]-smooth.Crr*m[1])*g, (m[0]-m[1])*g
			theta := math.Asin(-drag/math.Hypot(onCos, onSin)) - math.Atan2(onCos, onSin)
			if math.Cos(theta) < 0 {
				theta = math.Pi - math.Asin(-drag/math.Hypot(onCos, onSin)) - math.Atan2(onCos, onSin)
			}
			theta = math.Remainder(theta, 2*math.Pi)
			want := 100 * math.Tan(theta)
			force := 0.5*density*(light.CdAM2+0.0044)*v*v + light.Crr*m[0]*g*math.Cos(theta) + m[0]*g*math.Sin(theta) + 0.091 + 0.0087*v
			powerW := force * v / efficiency
			if want < leastPct || want > mostPct || powerW < 50 {
				continue
			}
			checked++
			road := mustRoad(t, slope(500, 0), cond)
			c := Case{Road: road, Rider: rider(70), Setups: []ride.Setup{light, smooth}, Doubt: doubtless(), Ambitions: []Ambition{finish(road)}, Quantities: []Quantity{Gradient}}
			x := decide(t, c.at(t, powerW)).Rankings[0].Crossings[0]
			near(t, "crossing gradient in per cent", x.At, want, 0.01)
			if x.BetterBelow != 1 || x.BetterAbove != 0 {
				t.Errorf("below %v %% the better one is %s", x.At, c.Setups[x.BetterBelow].Name)
			}
		}
	}
	if checked < 8 {
		t.Errorf("only %d were checked", checked)
	}
}

// Common practice: the lighter of two bicycles is the better one on steep roads, the one
// with less drag on flat ones.
func TestLightOnSteepSmoothOnFlat(t *testing.T) {
	for gradient, want := range map[float64]string{0: "smooth", 0.02: "smooth", 0.08: "light", 0.11: "light"} {
		road := mustRoad(t, slope(6000, gradient), conditions())
		c := Case{Road: road, Rider: rider(68), Setups: []ride.Setup{setup("light", 6.8, 0), setup("smooth", 8.6, -0.025)}, Doubt: doubtful(road), Ambitions: []Ambition{finish(road)}}
		places := decide(t, c.at(t, 260)).Rankings[0].Places
		if got := c.Setups[places[0].Setup].Name; got != want || places[1].Behind.Tied {
			t.Errorf("at %v %s, told apart: %v", gradient, got, !places[1].Behind.Tied)
		}
	}
}

// Common practice: a change of bicycle costs tens of seconds, and pays only before a climb
// that is long and steep enough. For these two bicycles the length from which it pays falls
// with the gradient, and the gain grows with both.
func TestAChangePaysOnLongSteepClimbs(t *testing.T) {
	gain := func(lengthM, gradient float64) Trial {
		return decide(t, flatThenClimb(t, lengthM, gradient, 280, Change{Stops: true, StandingS: DefaultStandingS})).Changes[0].Trials[0]
	}
	shortest := math.Inf(1)
	for _, gradient := range []float64{0.06, 0.07, 0.08, 0.1} {
		last, pays := math.Inf(-1), math.Inf(1)
		for lengthM := 1000.0; lengthM <= 16_000; lengthM += 1000 {
			trial := gain(lengthM, gradient)
			if !(trial.Gain.S > last) {
				t.Errorf("%v m at %v gains %v s, a shorter climb %v s", lengthM, gradient, trial.Gain.S, last)
			}
			if !(trial.LostS > 17 && trial.LostS < 40) {
				t.Errorf("a change loses %v s", trial.LostS)
			}
			if last = trial.Gain.S; last > 0 {
				pays = min(pays, lengthM)
			}
		}
		t.Logf("at %v the change pays from %v m on", gradient, pays)
		if !(pays < shortest) {
			t.Errorf("at %v from %v m on, on a gentler climb from %v m on", gradient, pays, shortest)
		}
		shortest = pays
	}
	if flat := gain(16_000, 0.01); flat.Gain.S > 0 || flat.WonS > 0 {
		t.Errorf("on a road that hardly rises a change gains %v s", flat.Gain.S)
	}
}
