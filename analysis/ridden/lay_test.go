package ridden_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/recording"
	"parcours.example/analysis/ridden"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/track"
	"parcours.example/internal/ridegen"
	"parcours.example/internal/seeded"
)

// round is a course with a ride over it.
type round struct {
	course  *course.Course
	ride    *ride.Ride
	samples []track.Sample
	// truthM is where the rider was at each sample.
	truthM []float64
}

// roundOf rides an invented course of at most 40 km.
func roundOf(t testing.TB, kind coursegen.Kind, seed uint64, noise ridegen.Noise) round {
	t.Helper()
	line, truth := coursegen.Random(kind, seed)
	for ; truth.LengthM > 40_000; seed += 1000 {
		line, truth = coursegen.Random(kind, seed)
	}
	points := coursegen.Record(line, coursegen.Noise{SpacingM: 8}, seed)
	c, err := course.FromTrack(context.Background(), &track.Track{Points: points}, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	return over(t, c, seed, noise)
}

// over rides a course.
func over(t testing.TB, c *course.Course, seed uint64, noise ridegen.Noise) round {
	t.Helper()
	nan := math.NaN()
	road, err := ride.NewRoad(c, ride.Conditions{
		TemperatureC: nan, PressureHPa: nan, HumidityPct: nan, AirDensityKgM3: nan, WindMps: nan, WindFromDeg: nan, RoughnessM: nan,
		HeadwindMps: nan, Shelter: nan, LoadKg: nan, StartSpeedMps: nan, CoastAboveMps: nan, LateralMps2: nan, BrakingMps2: nan,
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	rider := ride.Rider{
		MassKg: 70, HeightM: nan, CdAM2: nan, PowerW: nan, CriticalPowerW: nan, WPrimeJ: nan, MaxPowerW: nan,
		RecoveryRate: nan, GrossEfficiency: nan,
	}
	setup := ride.Setup{
		MassKg: nan, CdAM2: nan, CdAChangeM2: nan, Crr: nan, DrivetrainEfficiency: nan, WheelInertiaKgM2: nan,
		WheelRadiusM: nan, WheelDragAreaM2: nan, BearingN: nan, BearingNsPerM: nan,
	}
	r, err := ride.Simulate(context.Background(), road, rider, setup, ride.Effort{Kind: ride.ByPower, PowerW: 260}, nil)
	if err != nil {
		t.Fatal(err)
	}
	samples, truthM := ridegen.Samples(c, r, noise, seed)
	return round{c, r, samples, truthM}
}

// laid writes samples as a FIT file, reads it, and lays it on a course.
func laid(t testing.TB, c *course.Course, samples []track.Sample, opt ridden.Options) (*ridden.Ride, error) {
	t.Helper()
	data, err := ridegen.FIT(samples)
	if err != nil {
		t.Fatal(err)
	}
	r, err := recording.ReadFIT(context.Background(), data, track.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	got, err := ridden.Lay(context.Background(), c, r, opt)
	if err == nil {
		checkRide(t, c, got)
	}
	return got, err
}

// checkRide holds a ride to what its readers count on.
func checkRide(t testing.TB, c *course.Course, r *ridden.Ride) {
	t.Helper()
	if len(r.Points) < 2 || r.Points[0].TimeS != 0 || r.Points[0].Broken {
		t.Fatalf("%+v", r.Points)
	}
	for i, p := range r.Points {
		if !(p.AtM >= 0 && p.AtM <= c.LengthM()) || p.SpeedMPS < 0 || math.IsInf(p.SpeedMPS, 0) {
			t.Fatalf("point %d: %+v", i, p)
		}
		if i > 0 && !(p.TimeS > r.Points[i-1].TimeS && p.AtM >= r.Points[i-1].AtM) {
			t.Fatalf("point %d: %+v after %+v", i, p, r.Points[i-1])
		}
	}
}

// bare takes speeds and distances out: positions alone are left.
func bare(samples []track.Sample) []track.Sample {
	samples = slices.Clone(samples)
	for i := range samples {
		samples[i].SpeedMPS, samples[i].DistanceM = math.NaN(), math.NaN()
	}
	return samples
}

// TestRidesLieWhereTheyWere lays rides over courses of all kinds: places, splits and
// speeds are those of the ride, and nothing is noted that isn't so. Half of the rides have
// positions alone, whose noise of 2.5 m is a second uphill or in moving off.
func TestRidesLieWhereTheyWere(t *testing.T) {
	first := seeded.First(t)
	kinds := coursegen.Kinds()
	var late []float64 // of splits by positions alone
	for n := range uint64(seeded.Cases(360)) {
		seed, kind := first+n, kinds[int(n)%len(kinds)]
		r := roundOf(t, kind, seed, ridegen.Ordinary())
		alone := n/uint64(len(kinds))%2 == 1
		samples := r.samples
		if alone {
			samples = bare(samples)
		}
		got, err := laid(t, r.course, samples, ridden.Options{})
		if err != nil {
			t.Errorf("seed %d, %v: %v", seed, kind, err)
			continue
		}
		m := r.misses(got)
		t.Logf("seed %d, %v: %+v, said %.3f", seed, kind, m, got.SpeedNoiseMPS)
		if m.placeM > 15 && kind != coursegen.Shuttle || m.placeM > 30 || m.speedMPS > 2.5*got.SpeedNoiseMPS || got.SpeedNoiseMPS > 3*m.speedMPS {
			t.Errorf("seed %d, %v: %+v, said %.3f", seed, kind, m, got.SpeedNoiseMPS)
		}
		if len(got.Notes) > 0 {
			t.Errorf("seed %d, %v: %+v", seed, kind, got.Notes)
		}
		if alone {
			late = append(late, m.splitsS...)
			continue
		}
		if m.late > 0 || m.speedMPS > 0.1 {
			t.Errorf("seed %d, %v: %+v", seed, kind, m)
		}
	}
	slices.Sort(late)
	if n := len(late); n > 0 {
		t.Logf("splits by positions alone: 95 %% within %.2f s, the worst %.2f s of %d", late[n*95/100], late[n-1], n)
		if !(late[n*95/100] <= 1.5) || !(late[n*50/100] <= 0.5) {
			t.Errorf("splits by positions alone: half within %.2f s, 95 %% within %.2f s", late[n/2], late[n*95/100])
		}
	}
}

// misses are how far a laid ride is from the one that was ridden.
type misses struct {
	// placeM is the largest error of a place, speedMPS the root mean square of those of
	// speeds, wayShare that of the integral of speed.
	placeM, speedMPS, wayShare float64
	// splitsS are those of the times of the course's parts, late how many of them are above
	// a second and above what 5 m take at the end of the part.
	splitsS []float64
	late    int
}

func (r *round) misses(got *ridden.Ride) misses {
	var m misses
	squares, n, way := 0.0, 0, 0.0
	for i, p := range got.Points {
		if i > 0 {
			way += (p.TimeS - got.Points[i-1].TimeS) * (p.SpeedMPS + got.Points[i-1].SpeedMPS) / 2
		}
		k := int(math.Round(p.TimeS + got.FromS))
		if math.Abs(p.TimeS+got.FromS-float64(k)) > 1e-6 || k >= len(r.truthM) || r.truthM[k] > r.course.LengthM() {
			continue
		}
		m.placeM = max(m.placeM, math.Abs(p.AtM-r.truthM[k]))
		off := p.SpeedMPS - r.speedAt(float64(k))
		squares, n = squares+off*off, n+1
	}
	m.speedMPS, m.wayShare = math.Sqrt(squares/float64(n)), way/r.ride.RoadLengthM-1
	for _, p := range got.Passes {
		off := math.Abs(p.TimeS() - (r.timeAt(p.EndM) - r.timeAt(p.StartM)))
		m.splitsS = append(m.splitsS, off)
		if !(off <= max(1, 5/r.speedAt(r.timeAt(p.EndM)))) {
			m.late++
		}
	}
	return m
}

// speedAt is the speed at a time of the simulated ride.
func (r *round) speedAt(timeS float64) float64 {
	tr := &r.ride.Trace
	return interpolated(tr.TimeS, tr.SpeedMps, timeS)
}

// timeAt is when the simulated ride passed a place.
func (r *round) timeAt(atM float64) float64 {
	tr := &r.ride.Trace
	return interpolated(tr.DistanceM, tr.TimeS, atM)
}

func interpolated(x, y []float64, at float64) float64 {
	i, _ := slices.BinarySearch(x, at)
	i = min(max(i-1, 0), len(x)-2)
	f := (at - x[i]) / (x[i+1] - x[i])
	return y[i] + (y[i+1]-y[i])*min(f, 1)
}
