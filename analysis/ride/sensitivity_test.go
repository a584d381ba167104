package ride

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/internal/seeded"
)

// tour is a ride of which everything is given that sensitivities go by.
type tour struct {
	course     *course.Course
	conditions Conditions
	rider      Rider
	setup      Setup
	effort     Effort
	spans      []Span
}

func (o tour) road(t testing.TB) *Road { return mustRoad(t, o.course, o.conditions) }

func (o tour) ridden(t testing.TB) *Ride {
	return mustRide(t, o.road(t), o.rider, o.setup, o.effort, o.spans...)
}

// terrains are the kinds of courses that sensitivities are held against.
var terrains = []struct {
	name   string
	change func(*tour, *rand.Rand)
}{
	{"rolling", func(*tour, *rand.Rand) {}},
	{"steep", func(o *tour, r *rand.Rand) {
		rise := 0.06 + 0.08*r.Float64()
		for i, s := range o.course.S {
			o.course.Z[i] = 300 + 3*math.Sin(s/90) + rise*(o.course.S[len(o.course.S)-1]/2-math.Abs(s-o.course.S[len(o.course.S)-1]/2))
		}
	}},
	{"windy", func(o *tour, r *rand.Rand) {
		o.conditions.WindMps, o.conditions.WindFromDeg = 3+7*r.Float64(), 360*r.Float64()
	}},
	{"bendy", func(o *tour, r *rand.Rand) {
		wave := 30 + 60*r.Float64()
		o.course = turned(o.course, func(s float64) float64 { return 100 * math.Sin(s/wave) })
	}},
	{"indoor", func(o *tour, r *rand.Rand) { o.conditions.Indoor = true }},
	{"launch", func(o *tour, r *rand.Rand) {
		n := len(o.course.S) / 8
		o.course.S, o.course.Z, o.course.Pos = o.course.S[:n+1], o.course.Z[:n+1], o.course.Pos[:n+1]
		o.course.Heading, o.course.Curvature = o.course.Heading[:n], o.course.Curvature[:n+1]
	}},
}

// drawTour draws a ride over a kind of terrain.
func drawTour(kind int, seed uint64) tour {
	r := rand.New(rand.NewPCG(seed, 77))
	length := 2000 + 6000*r.Float64()
	c := even(length, int(length/(5+15*r.Float64())), hills(r, 5+20*r.Float64()))
	turn := 200 + 400*r.Float64()
	o := tour{
		course: turned(c, func(s float64) float64 { return s / turn * 60 }), conditions: conditions(), rider: rider(55 + 40*r.Float64()), setup: setup(),
	}
	o.conditions.TemperatureC, o.conditions.HumidityPct = 5+25*r.Float64(), 100*r.Float64()
	o.rider.CdAM2, o.setup.Crr, o.setup.DrivetrainEfficiency = 0.22+0.15*r.Float64(), 0.002+0.006*r.Float64(), 0.95+0.04*r.Float64()
	o.conditions.WindMps, o.conditions.WindFromDeg = 0, unset
	terrains[kind].change(&o, r)
	length = o.course.LengthM()
	o.effort = watts(150 + 250*r.Float64())
	if r.IntN(3) == 0 {
		o.effort = Effort{Kind: BySteps}
		for at := 0.0; at < length; {
			at += 100 + 1500*r.Float64()
			o.effort.Steps = append(o.effort.Steps, Step{at, 120 + 350*r.Float64()})
		}
	}
	for at := 0.0; at < length; {
		next := min(at+300+1000*r.Float64(), length)
		o.spans = append(o.spans, Span{StartM: at, EndM: next})
		at = next
	}
	return o
}

// change is a quantity, a small change of it in a request, and its sensitivity.
type change struct {
	name  string
	by    float64
	apply func(*tour, float64)
	of    func(Sensitivity) float64
}

func changes(o tour) []change {
	wind := change{"wind", 1e-4, func(o *tour, by float64) { o.conditions.HeadwindMps = by }, func(s Sensitivity) float64 { return s.PerWindMps }}
	if o.conditions.WindMps > 0 {
		wind.apply = func(o *tour, by float64) { o.conditions.WindMps += by }
	}
	powers := func(f func(float64) float64) func(o *tour) {
		return func(o *tour) {
			o.effort.PowerW = f(o.effort.PowerW)
			o.effort.Steps = append([]Step(nil), o.effort.Steps...)
			for i := range o.effort.Steps {
				o.effort.Steps[i].PowerW = f(o.effort.Steps[i].PowerW)
			}
		}
	}
	return []change{
		{"mass", 1e-3, func(o *tour, by float64) { o.rider.MassKg += by }, func(s Sensitivity) float64 { return s.PerKg }},
		{"power", 3e-3, func(o *tour, by float64) { powers(func(p float64) float64 { return p + by })(o) }, func(s Sensitivity) float64 { return s.PerW }},
		{"power in per cent", 1e-3, func(o *tour, by float64) { powers(func(p float64) float64 { return p * (1 + by/100) })(o) }, func(s Sensitivity) float64 { return s.PerPowerPct }},
		{"drag area", 1e-6, func(o *tour, by float64) { o.rider.CdAM2 += by }, func(s Sensitivity) float64 { return s.PerCdAM2 }},
		{"Crr", 1e-7, func(o *tour, by float64) { o.setup.Crr += by }, func(s Sensitivity) float64 { return s.PerCrr }},
		{"temperature", 2e-3, func(o *tour, by float64) { o.conditions.TemperatureC += by }, func(s Sensitivity) float64 { return s.PerC }},
		wind,
		{"efficiency", 1e-5, func(o *tour, by float64) { o.setup.DrivetrainEfficiency += by }, func(s Sensitivity) float64 { return s.PerEfficiency }},
	}
}

// differences returns the central difference of the time by a change, per unit, on the
// whole and on each span; nil where a ride comes to a halt.
func (o tour) differences(t testing.TB, c change) []float64 {
	times := func(by float64) []float64 {
		p := o
		c.apply(&p, by)
		ride, err := Simulate(context.Background(), p.road(t), p.rider, p.setup, p.effort, p.spans)
		if err != nil {
			return nil
		}
		all := []float64{ride.TimeS}
		for _, s := range ride.Splits {
			all = append(all, s.TimeS)
		}
		return all
	}
	more, less := times(c.by), times(-c.by)
	if more == nil || less == nil {
		return nil
	}
	for i := range more {
		more[i] = (more[i] - less[i]) / (2 * c.by)
	}
	return more
}

// TestSensitivitiesAreTheDerivatives holds every sensitivity against the central
// difference of two rides with a small change, within 1 % on the whole and on each span,
// of what the spans change together where they cancel.
func TestSensitivitiesAreTheDerivatives(t *testing.T) {
	first, worst, compared := seeded.First(t), 0.0, 0
	for kind, terrain := range terrains {
		for seed := first; seed < first+uint64(seeded.Cases(200)); seed++ {
			o := drawTour(kind, seed)
			road := o.road(t)
			ride, err := Simulate(context.Background(), road, o.rider, o.setup, o.effort, o.spans)
			if codeOf(err) == CodeCannotClimb {
				continue
			}
			got := ride.Sensitivities(road)
			for _, c := range changes(o) {
				want := o.differences(t, c)
				if want == nil {
					continue
				}
				off := offBy(c, ride.TimeS, got, want)
				if finer := c; off > 0.01 { // a kink, or another number of steps, may lie within the change
					finer.by /= 10
					want = o.differences(t, finer)
					off = offBy(c, ride.TimeS, got, want)
				}
				worst, compared = max(worst, off), compared+1
				if off > 0.01 {
					t.Errorf("%s, seed %d: %s is off by %.3g: got %v, want %v", terrain.name, seed, c.name, off, c.of(got.Whole), want[0])
				}
			}
		}
	}
	t.Logf("%d compared, off by at most %.2g", compared, worst)
}

// offBy is the largest relative error of a sensitivity: of the whole in what the spans
// change together, of each span in what it or the mean span changes. Together they count
// as a ten-thousandth of the time for a thousand times the change at least: mass up and
// down a hill may cancel on one span.
func offBy(c change, timeS float64, got Sensitivities, want []float64) float64 {
	sum := 0.0
	for _, w := range want[1:] {
		sum += math.Abs(w)
	}
	sum = max(sum, 1e-4*timeS/(1000*c.by))
	off := math.Abs(c.of(got.Whole)-want[0]) / sum
	for i, s := range got.Splits {
		off = max(off, math.Abs(c.of(s)-want[i+1])/max(math.Abs(want[i+1]), sum/float64(len(got.Splits))))
	}
	return off
}

// Points count from where they were passed before, or from the start.
func TestSensitivitiesOfPoints(t *testing.T) {
	o := drawTour(0, 5)
	o.spans = []Span{
		{Of: "mark", ID: "m", StartM: 1500, EndM: 1500},
		{Of: "mark", ID: "m", StartM: 700, EndM: 700},
		{StartM: 0, EndM: 700},
		{StartM: 700, EndM: 1500},
	}
	s := o.ridden(t).Sensitivities(o.road(t)).Splits
	if s[0] != s[3] || s[1] != s[2] || s[0].PerKg == s[1].PerKg {
		t.Errorf("got %+v", s)
	}
}

// Where the density of the air is given its temperature counts for nothing, and indoors
// the wind does.
func TestSensitivitiesToWhatDoesNotAct(t *testing.T) {
	o := drawTour(0, 6)
	o.conditions.Indoor, o.conditions.AirDensityKgM3 = true, 1.2
	s := o.ridden(t).Sensitivities(o.road(t)).Whole
	if s.PerC != 0 || s.PerWindMps != 0 || s.PerCdAM2 <= 0 {
		t.Errorf("got %+v", s)
	}
}

// A compass wind's sensitivity is along its direction, so that a headwind and a tailwind
// differ in sign; the standard atmosphere warms like air of its temperature.
func TestSensitivitiesToWeather(t *testing.T) {
	o := drawTour(2, 3)
	o.course = turned(o.course, func(float64) float64 { return 90 })
	against := func(fromDeg float64) float64 {
		o.conditions.WindFromDeg = fromDeg
		return o.ridden(t).Sensitivities(o.road(t)).Whole.PerWindMps
	}
	if ahead, behind := against(90), against(270); ahead <= 0 || behind >= 0 {
		t.Errorf("%v s per m/s against the wind, %v with it", ahead, behind)
	}
	o.conditions.TemperatureC, o.conditions.HumidityPct = unset, unset
	standard := o.ridden(t).Sensitivities(o.road(t)).Whole.PerC
	kelvin, _, _ := StandardAir(o.course.Z[0])
	o.conditions.TemperatureC = kelvin - zeroCelsiusK
	near(t, "s/°C", standard, o.ridden(t).Sensitivities(o.road(t)).Whole.PerC, 2e-3*math.Abs(standard))
}
