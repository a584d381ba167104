package calibrate

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/ridden"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/track"
)

var unset = math.NaN()

func conditions() ride.Conditions {
	return ride.Conditions{
		TemperatureC: unset, PressureHPa: unset, HumidityPct: unset, AirDensityKgM3: unset,
		WindMps: unset, WindFromDeg: unset, RoughnessM: unset, HeadwindMps: unset, Shelter: unset,
		LoadKg: unset, StartSpeedMps: unset, CoastAboveMps: unset, LateralMps2: unset, BrakingMps2: unset,
	}
}

func rider(massKg float64) ride.Rider {
	return ride.Rider{
		MassKg: massKg, HeightM: unset, CdAM2: unset, PowerW: unset, CriticalPowerW: unset, WPrimeJ: unset,
		MaxPowerW: unset, RecoveryRate: unset, GrossEfficiency: unset,
	}
}

func setup() ride.Setup {
	return ride.Setup{
		MassKg: unset, CdAM2: unset, CdAChangeM2: unset, Crr: unset, DrivetrainEfficiency: unset,
		WheelInertiaKgM2: unset, WheelRadiusM: unset, WheelDragAreaM2: unset, BearingN: unset, BearingNsPerM: unset,
	}
}

// exact takes everything for known but the Crr to assume.
func exact() Options { return Options{Uncertainties: ride.Uncertainties{Crr: unset}} }

// noise is what goes wrong in a recording, and in the file of the course it is laid on.
type noise struct {
	// powerShare and speedMps are new each second; placeM is correlated over 60 s.
	powerShare, speedMps, placeM float64
	// file is how the course was recorded.
	file coursegen.Noise
}

// realistic are errors as devices have them: 2 % of power each second, a wheel sensor's
// speed, a receiver's place, and a course file with a barometer's elevation. Common
// practice.
func realistic() noise {
	return noise{0.02, 0.1, 2, coursegen.Noise{IntervalS: 1, PositionM: 3, WhiteM: 0.3, ElevationM: 0.3, DriftM: 1}}
}

// world is a true course, and the same as a file of it has it.
type world struct{ true, known *course.Course }

func newWorld(t testing.TB, kind coursegen.Kind, n noise, seed uint64, longestM float64) world {
	t.Helper()
	line, _ := coursegen.Random(kind, seed)
	opt := course.Defaults()
	if line.LengthM() > longestM {
		opt.EndM = longestM
	}
	known := madeOf(t, coursegen.Record(line, n.file, seed), opt)
	opt.Smoothing = course.None
	return world{madeOf(t, coursegen.Record(line, coursegen.Noise{SpacingM: 10}, seed), opt), known}
}

func madeOf(t testing.TB, points []track.Point, opt course.Options) *course.Course {
	t.Helper()
	c, err := course.FromTrack(context.Background(), &track.Track{Points: points}, opt)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// uneven is a power that changes every 1 to 4 km, between two that are this many times a
// base.
func uneven(rng *rand.Rand, lengthM, baseW, least, most float64) ride.Effort {
	e := ride.Effort{Kind: ride.BySteps}
	for at := 0.0; at < lengthM; {
		at += 1000 + 3000*rng.Float64()
		e.Steps = append(e.Steps, ride.Step{EndM: at, PowerW: baseW * (least + (most-least)*rng.Float64())})
	}
	return e
}

// wake is a stretch ridden at a factor of the drag.
type wake struct{ startM, endM, factor float64 }

// stints are those of a ride through lees.
func stints(on ride.Setup, lees []wake) []ride.Stint {
	var out []ride.Stint
	for _, l := range lees {
		out = append(out, ride.Stint{EndM: l.startM, Setup: on, Shelter: unset}, ride.Stint{EndM: l.endM, Setup: on, Shelter: l.factor})
	}
	return append(out, ride.Stint{Setup: on, Shelter: unset})
}

// simulated is a ride as recorded; nil where the rider can't climb the course.
func (w world) simulated(t testing.TB, who ride.Rider, on ride.Setup, c ride.Conditions, e ride.Effort, n noise, rng *rand.Rand, lees ...wake) *Session {
	t.Helper()
	road, err := ride.NewRoad(w.true, c, nil)
	if err != nil {
		t.Fatal(err)
	}
	ridden, err := ride.SimulateStints(context.Background(), road, who, stints(on, lees), e, nil)
	var halt *ride.Error
	if errors.As(err, &halt) && halt.Code == ride.CodeCannotClimb {
		return nil
	}
	if err != nil {
		t.Fatal(err)
	}
	s := &Session{Course: w.known, Rider: who, Setup: on, Conditions: c}
	s.Rider.CdAM2, s.Setup.CdAM2, s.Setup.Crr = unset, unset, unset
	s.Ride.Points = recorded(&ridden.Trace, w.places(&ridden.Trace), n, rng)
	s.Ride.SpeedNoiseMPS = n.speedMps
	return s
}

// places are the samples of a trace on the known course: the nearest place to where they
// were, near the one that is as far along.
func (w world) places(tr *ride.Trace) []float64 {
	const near = 8 // nodes
	c := w.known
	if !c.HasPositions() {
		return tr.DistanceM
	}
	out := make([]float64, len(tr.DistanceM))
	offset, last := 0.0, 0.0
	for i, at := range tr.DistanceM {
		k := w.true.PieceAt(at)
		pos := w.true.Pos[k].Lerp(w.true.Pos[k+1], (at-w.true.S[k])/(w.true.S[k+1]-w.true.S[k]))
		around, least := c.PieceAt(at+offset), math.Inf(1)
		for j := max(around-near, 0); j < min(around+near, len(c.S)-1); j++ {
			piece := c.Pos[j+1].Sub(c.Pos[j])
			f := min(max(pos.Sub(c.Pos[j]).Dot(piece)/piece.Dot(piece), 0), 1)
			place := c.S[j] + f*(c.S[j+1]-c.S[j])
			if d := geodesy.Chord(pos, c.Pos[j].Lerp(c.Pos[j+1], f)) + 0.05*math.Abs(place-at-offset); d < least {
				least, out[i] = d, place
			}
		}
		last = max(last, out[i])
		out[i] = last
		offset += 0.1 * (out[i] - at - offset)
	}
	return out
}

// recorded is a trace at 1 Hz with its errors, its samples lying at these places.
func recorded(tr *ride.Trace, places []float64, n noise, rng *rand.Rand) []ridden.Point {
	var points []ridden.Point
	last, place, workJ, lastJ, k := 0.0, n.placeM*rng.NormFloat64(), 0.0, 0.0, 0
	keep := math.Exp(-1.0 / 60)
	end := tr.TimeS[len(tr.TimeS)-1]
	for now := 0.0; now < end; now++ {
		for tr.TimeS[k+1] <= now {
			workJ += tr.PowerW[k] * (tr.TimeS[k+1] - tr.TimeS[k])
			k++
		}
		tau, span := now-tr.TimeS[k], tr.TimeS[k+1]-tr.TimeS[k]
		v0, v1 := tr.SpeedMps[k], tr.SpeedMps[k+1]
		speed := v0 + (v1-v0)*tau/span
		at := places[k] + (places[k+1]-places[k])*tau*(v0+speed)/(span*(v0+v1))
		doneJ := workJ + tr.PowerW[k]*tau
		place = place*keep + n.placeM*math.Sqrt(1-keep*keep)*rng.NormFloat64()
		last = max(last, at+place)
		points = append(points, ridden.Point{
			TimeS: now, AtM: last, SpeedMPS: max(speed+n.speedMps*rng.NormFloat64(), 0),
			PowerW: (doneJ - lastJ) * (1 + n.powerShare*rng.NormFloat64()),
		})
		lastJ = doneJ
	}
	return points
}

// along are lees whose ends are given as shares of the course.
func (w world) along(lees []wake) []wake {
	var out []wake
	for _, l := range lees {
		out = append(out, wake{l.startM * w.true.LengthM(), l.endM * w.true.LengthM(), l.factor})
	}
	return out
}
