package field

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"parcours.example/analysis/elementary"
	"parcours.example/analysis/ride"
	"parcours.example/internal/seeded"
)

func source(t rapid.TB, g Group) *Source {
	t.Helper()
	s, err := New(g)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// drawn returns a rider's quantities.
func drawn(r ride.Rider) [quantities]float64 {
	return [...]float64{mass: r.MassKg, wPerKg: r.CriticalPowerW / r.MassKg, wPrime: r.WPrimeJ, maxWPerKg: r.MaxPowerW / r.MassKg}
}

// wide is a group in which all six correlations are told and hardly anybody is cut off.
func wide() Group {
	g := Trained()
	g.Name = "Mill"
	g.Correlations = Correlations{-0.5, 0.4, 0.1, -0.3, 0.2, 0.6}
	return g
}

// Means, spreads and correlations of many riders are those asked for, within four
// standard errors.
func TestMomentsAndCorrelations(t *testing.T) {
	g := wide()
	s, first := source(t, g), seeded.First(t)
	n := float64(seeded.Cases(200_000))
	var means, squares [quantities]float64
	var products [quantities][quantities]float64
	for k := range int(n) {
		values := drawn(s.Rider(first+uint64(k%7), k/7))
		for i, want := range s.normals {
			z := (values[i] - want.Mean) / want.SD
			means[i] += z / n
			squares[i] += z * z / n
			values[i] = z
			for j := range i {
				products[i][j] += z * values[j] / n
			}
		}
	}
	r := g.Correlations.matrix()
	for i, q := range of() {
		if math.Abs(means[i]) > 4/math.Sqrt(n) {
			t.Errorf("the mean of %s is %.4f standard deviations off", q.name, means[i])
		}
		if math.Abs(squares[i]-1) > 4*math.Sqrt(2/n) {
			t.Errorf("the variance of %s is %.4f times that asked for", q.name, squares[i])
		}
		for j := range i {
			if math.Abs(products[i][j]-r[i][j]) > 4*math.Sqrt((1+r[i][j]*r[i][j])/n) {
				t.Errorf("%s and %s correlate by %.4f, not %v", q.name, of()[j].name, products[i][j], r[i][j])
			}
		}
	}
}

// A rider is the same whoever else is drawn, another by another seed, number or group.
func TestEachRiderIsDrawnAlone(t *testing.T) {
	s, g := source(t, wide()), wide()
	g.Name = "Weir"
	other := source(t, g)
	rapid.Check(t, func(t *rapid.T) {
		seed, n := rapid.Uint64().Draw(t, "seed"), rapid.IntRange(0, 199).Draw(t, "rider")
		want := s.Rider(seed, n)
		for k := range rapid.IntRange(0, 5).Draw(t, "others") {
			s.Rider(seed, k)
		}
		if diff := cmp.Diff(want, s.Rider(seed, n), cmpopts.EquateNaNs()); diff != "" {
			t.Fatal("drawn again:", diff)
		}
		for _, r := range []ride.Rider{s.Rider(seed+1, n), s.Rider(seed, n+1), other.Rider(seed, n)} {
			if r.WPrimeJ == want.WPrimeJ && r.MassKg == want.MassKg {
				t.Fatalf("%s is %s", r.Name, want.Name)
			}
		}
	})
	if got := s.Rider(1, 0).Name; got != "Mill 1" {
		t.Error(got)
	}
}

// Without maximal powers the riders are the same but for those.
func TestWithoutMaximalPower(t *testing.T) {
	g := wide()
	with := source(t, g)
	g.MaxWPerKg.Mean = math.NaN()
	without := source(t, g)
	for n := range 50 {
		a, b := with.Rider(3, n), without.Rider(3, n)
		if !math.IsNaN(b.MaxPowerW) || a.MaxPowerW < a.CriticalPowerW || a.MassKg != b.MassKg || a.CriticalPowerW != b.CriticalPowerW || a.WPrimeJ != b.WPrimeJ {
			t.Fatalf("%+v, %+v", a, b)
		}
	}
	if !math.IsNaN(without.Cut().MaxWPerKg.Mean) {
		t.Error(without.Cut())
	}
}

// Whatever is asked for, riders are within what riders are, or it is refused.
func TestRidersAreRiders(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		normal := func(what string, least, most, sd float64) Normal {
			return Normal{rapid.Float64Range(least, most).Draw(t, what), rapid.Float64Range(0, sd).Draw(t, what+"'s spread")}
		}
		r := func(what string) float64 { return rapid.Float64Range(-1, 1).Draw(t, what) }
		g := Group{
			MassKg: normal("mass", 20, 190, 40), WPerKg: normal("critical power", 0.5, 9.5, 2), WPrimeJ: normal("W′", 1000, 90_000, 20_000),
			MaxWPerKg:    normal("maximal power", 2, 40, 8),
			Correlations: Correlations{MassWPerKg: r("first"), MassWPrime: r("second"), WPerKgWPrime: r("third")},
		}
		s, err := New(g)
		if err != nil {
			var e *Error
			if !errors.As(err, &e) || e.Quantity == "" || e.Detail == "" {
				t.Fatal(err)
			}
			return
		}
		for n := range 10 {
			for i, v := range drawn(s.Rider(1, n)) {
				if q := s.bounds[i]; !(v > q.least*0.98 && v < q.most*1.02) { // powers and masses are rounded
					t.Fatalf("%s is %v %s", q.name, v, q.unit)
				}
			}
		}
	})
}

// Of one quantity at the edge the share cut off and what is left are those of the
// truncated normal distribution: below (30 − 36)/10 standard deviations lie ½·erfc(0.6/√2),
// and the mean moves by sd·φ(0.6)/Φ(0.6).
func TestWhatIsCutOffIsTold(t *testing.T) {
	g := Trained()
	g.MassKg, g.Correlations = Normal{36, 10}, Correlations{}
	cut := source(t, g).Cut()
	share := elementary.Erfc(0.6/math.Sqrt2) / 2
	if math.Abs(cut.Share-share) > 4*cut.SE {
		t.Errorf("%v ± %v cut off, not %v", cut.Share, cut.SE, share)
	}
	mean := 36 + 10*math.Exp(-0.18)/math.Sqrt(2*math.Pi)/(1-share)
	if math.Abs(cut.MassKg.Mean-mean) > 4*10./50 || !(cut.MassKg.SD < 8) {
		t.Errorf("%v is left, not %v", cut.MassKg, mean)
	}
	if c := source(t, Trained()).Cut(); c.Share > 0.001 {
		t.Errorf("of trained riders %v are cut off", c.Share)
	}
}

func TestWhatCannotBeDrawn(t *testing.T) {
	for _, c := range []struct {
		change func(*Group)
		want   string
	}{
		{func(g *Group) { g.MassKg.Mean = 29 }, "mass_kg: A mean of 29"},
		{func(g *Group) { g.WPerKg.SD = -1 }, "w_per_kg: A mean of 3.75 with a standard deviation of -1 W/kg: the mean must be within 0.8…9 W/kg, the deviation 0 to 9 W/kg."},
		{func(g *Group) { g.WPrimeJ.SD = math.NaN() }, "w_prime_j: A mean of 18000"},
		{func(g *Group) { g.MaxWPerKg = Normal{3.2, 0} }, "max_w_per_kg: 100 % of such riders are outside"},
		{func(g *Group) { g.Correlations.MassMax = 1.5 }, "correlations: The correlation of mass_kg and max_w_per_kg is 1.5"},
		{
			func(g *Group) { g.Correlations = Correlations{MassWPerKg: 0.9, MassWPrime: 0.9, WPerKgWPrime: -0.9} },
			"correlations: The correlations of w_prime_j, 0.9 with mass_kg and -0.9 with w_per_kg, can't hold",
		},
		{
			func(g *Group) { g.Correlations = Correlations{MassWPerKg: 0.6, MassWPrime: 0.6, WPerKgWPrime: -0.4} },
			"correlations: The correlations of w_prime_j, 0.6 with mass_kg and -0.4 with w_per_kg, can't hold",
		},
		{
			func(g *Group) { g.Correlations = Correlations{MassWPerKg: 1, MassWPrime: 0.5} },
			"correlations: The correlations of w_prime_j, 0.5 with mass_kg and 0 with w_per_kg, can't hold",
		},
	} {
		g := Trained()
		c.change(&g)
		_, err := New(g)
		var e *Error
		if !errors.As(err, &e) || !strings.HasPrefix(e.Quantity+": "+e.Detail, c.want) {
			t.Errorf("%v, want %s", err, c.want)
		}
	}
}

// Correlations of ±1 are the edge of what can be.
func TestWhatFollowsFromTheOthers(t *testing.T) {
	g := Trained()
	g.Correlations = Correlations{MassWPerKg: -1, MassWPrime: 1, WPerKgWPrime: -1}
	s := source(t, g)
	for n := range 20 {
		v := drawn(s.Rider(9, n))
		light := (72 - v[mass]) / 8
		if math.Abs((v[wPerKg]-3.75)/0.225-light) > 0.1 || math.Abs((18_000-v[wPrime])/2_000-light) > 0.02 {
			t.Errorf("%v", v)
		}
	}
}
