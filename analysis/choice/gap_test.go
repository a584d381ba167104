package choice

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/ride"
	"parcours.example/internal/seeded"
)

// drawn is how far a case's inputs are off in one draw: the rider's mass and power for all
// set-ups alike, each set-up's own drag area and rolling resistance.
type drawn struct {
	massKg, share float64
	cdaM2, crr    [2]float64
}

// apart rides both set-ups with inputs that are off.
func (d drawn) apart(t testing.TB, c Case, powerW float64) float64 {
	t.Helper()
	var times [2]float64
	for i, s := range c.Setups {
		who := c.Rider
		who.MassKg += d.massKg
		s.CdAChangeM2 += d.cdaM2[i]
		s.Crr += d.crr[i]
		r, err := ride.Simulate(context.Background(), c.Road, who, s, ride.Effort{Kind: ride.ByPower, PowerW: powerW * d.share}, nil)
		if err != nil {
			t.Fatal(err)
		}
		times[i] = r.TimeS
	}
	return times[1] - times[0]
}

// The spread of a gap is that of many draws of what is uncertain, to 10 %: what moves both
// set-ups alike counts only for what it does to their difference.
func TestSpreadOfAGapIsThatOfDraws(t *testing.T) {
	road := mustRoad(t, profile([]float64{0, 2000, 4000, 5000}, []float64{50, 50, 170, 160}), conditions())
	c := Case{Road: road, Rider: rider(70), Setups: []ride.Setup{setup("smooth", 9, -0.02), setup("light", 7, 0)}, Ambitions: []Ambition{finish(road)}}
	c.Rider.CdAM2 = 0.32
	c.Setups[0].Crr, c.Setups[1].Crr = 0.004, 0.0042
	const powerW = 230
	full := Doubt{CoveragePct: 90, Common: ride.Uncertainties{MassKg: 3, PowerPct: 8}, Own: OwnDoubt{CdAM2: 0.002, Crr: 0.0001}}
	shared := full
	shared.Own = OwnDoubt{}
	cases := max(400, seeded.Cases(8000))
	for name, doubt := range map[string]Doubt{"shared and own": full, "shared": shared} {
		random := rand.New(rand.NewPCG(seeded.First(t), 1))
		c.Doubt = doubt
		gap := math.Abs(decide(t, c.at(t, powerW)).Rankings[0].Places[1].Behind.SDS)
		sum, squares := 0.0, 0.0
		for range cases {
			d := drawn{massKg: doubt.Common.MassKg * random.NormFloat64(), share: 1 + doubt.Common.PowerPct/100*random.NormFloat64()}
			for i := range c.Setups {
				d.cdaM2[i], d.crr[i] = doubt.Own.CdAM2*random.NormFloat64(), doubt.Own.Crr*random.NormFloat64()
			}
			x := d.apart(t, c, powerW)
			sum += x
			squares += x * x
		}
		mean := sum / float64(cases)
		sd := math.Sqrt(squares/float64(cases) - mean*mean)
		t.Logf("%s: %.3f s, by %d draws %.3f s", name, gap, cases, sd)
		if math.Abs(gap/sd-1) > 0.1+4/math.Sqrt(2*float64(cases)) {
			t.Errorf("%s: %v s, by %d draws %v s", name, gap, cases, sd)
		}
	}
}

// Errors of a set-up's own count only where the two differ in the value.
func TestTheSamePartErrsAlike(t *testing.T) {
	road := mustRoad(t, slope(5000, 0.02), conditions())
	c := Case{Road: road, Rider: rider(70), Setups: []ride.Setup{setup("a", 8, 0), setup("b", 7, 0)}, Ambitions: []Ambition{finish(road)}}
	spread := func(own OwnDoubt) float64 {
		c.Doubt = Doubt{CoveragePct: 90, Own: own}
		return decide(t, c.at(t, 240)).Rankings[0].Places[1].Behind.SDS
	}
	if sd := spread(OwnDoubt{CdAM2: 0.01, Crr: 0.001, Efficiency: 0.01}); sd != 0 {
		t.Errorf("what both have in common spreads the gap by %v s", sd)
	}
	c.Setups[1].CdAChangeM2, c.Setups[1].Crr, c.Setups[1].DrivetrainEfficiency = 0.01, 0.0045, 0.97
	for name, own := range map[string]OwnDoubt{"mass": {MassKg: 0.1}, "drag area": {CdAM2: 0.01}, "Crr": {Crr: 0.001}, "efficiency": {Efficiency: 0.01}} {
		if sd := spread(own); !(sd > 0) {
			t.Errorf("what differs in %s spreads nothing", name)
		}
	}
}
