package recording_test

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/recording"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/track"
	"parcours.example/internal/ridegen"
	"parcours.example/internal/seeded"
)

// ridden returns what a device records of a ride over an invented course, of about an
// hour at most.
func ridden(t *testing.T, kind coursegen.Kind, seed uint64, noise ridegen.Noise) []track.Sample {
	t.Helper()
	ctx := context.Background()
	line, _ := coursegen.Random(kind, seed)
	points := coursegen.Record(line, coursegen.Noise{SpacingM: 10}, seed)
	c, err := course.FromTrack(ctx, &track.Track{Points: points}, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	if c.LengthM() > 30_000 {
		c = c.Cut(0, 30_000)
	}
	nan := math.NaN()
	road, err := ride.NewRoad(c, ride.Conditions{
		TemperatureC: nan, PressureHPa: nan, HumidityPct: nan, AirDensityKgM3: nan, WindMps: 2, WindFromDeg: 250, RoughnessM: nan,
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
	r, err := ride.Simulate(ctx, road, rider, setup, ride.Effort{Kind: ride.ByPower, PowerW: 260}, nil)
	if err != nil {
		t.Fatal(err)
	}
	samples, _ := ridegen.Samples(c, r, noise, seed)
	return samples
}

// reader reads what a writer wrote.
type reader struct {
	write func([]track.Sample) ([]byte, error)
	read  func(context.Context, []byte, track.Limits) (*recording.Recording, error)
}

func readers() map[string]reader {
	return map[string]reader{
		"FIT": {ridegen.FIT, recording.ReadFIT},
		"TCX": {func(s []track.Sample) ([]byte, error) { return ridegen.TCX(s), nil }, recording.ReadTCX},
		"GPX": {func(s []track.Sample) ([]byte, error) { return ridegen.GPX(s), nil }, recording.ReadGPX},
	}
}

// reread writes samples and reads them.
func reread(t *testing.T, format string, samples []track.Sample) *recording.Recording {
	t.Helper()
	r := readers()[format]
	data, err := r.write(samples)
	if err != nil {
		t.Fatal(err)
	}
	got, err := r.read(context.Background(), data, track.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	checkOrder(t, got)
	return got
}

// checkOrder holds a recording to what its readers count on.
func checkOrder(t *testing.T, r *recording.Recording) {
	t.Helper()
	if len(r.Samples) < 2 || r.Samples[0].TimeS != 0 {
		t.Fatalf("%d samples", len(r.Samples))
	}
	last := math.Inf(-1)
	for i, s := range r.Samples {
		if i > 0 && !(s.TimeS > r.Samples[i-1].TimeS) {
			t.Fatalf("sample %d at %v s after %v s", i, s.TimeS, r.Samples[i-1].TimeS)
		}
		if s.DistanceM < last {
			t.Fatalf("sample %d at %v m after %v m", i, s.DistanceM, last)
		}
		if !math.IsNaN(s.DistanceM) {
			last = s.DistanceM
		}
		for _, v := range []float64{s.SpeedMPS, s.PowerW, s.CadenceRPM} {
			if v < 0 || math.IsInf(v, 0) {
				t.Fatalf("sample %d: %+v", i, s)
			}
		}
	}
	for _, n := range r.Notes {
		if n.Code == "" || len(n.Detail) < 20 || n.Count < 1 || strings.Contains(n.Detail, "%!") || n.AtS < 0 || n.AtS > r.Samples[len(r.Samples)-1].TimeS {
			t.Fatalf("%+v", n)
		}
	}
}

func codes(notes []recording.Note) []string {
	var all []string
	for _, n := range notes {
		all = append(all, n.Code)
	}
	slices.Sort(all)
	return all
}

// TestCleanRecordings reads rides without a fault: nothing is invented, and all is as it
// was written.
func TestCleanRecordings(t *testing.T) {
	first := seeded.First(t)
	kinds := coursegen.Kinds()
	for n := range uint64(seeded.Cases(200)) {
		seed := first + n
		samples := ridden(t, kinds[int(n)%len(kinds)], seed, ridegen.Ordinary())
		for format := range readers() {
			if n > 5 && format != "FIT" {
				continue
			}
			got := reread(t, format, samples)
			if got.Notes != nil {
				t.Errorf("seed %d, %s: %+v", seed, format, got.Notes)
			}
			checkSame(t, samples, got)
		}
	}
}

// checkSame compares a recording with what was written, within the rounding of the
// formats.
func checkSame(t *testing.T, want []track.Sample, got *recording.Recording) {
	t.Helper()
	if len(got.Samples) != len(want) || got.StartUnixS != want[0].ClockS {
		t.Fatalf("%d samples from %v, want %d from %v", len(got.Samples), got.StartUnixS, len(want), want[0].ClockS)
	}
	for i, s := range got.Samples {
		w := want[i]
		if s.TimeS != w.ClockS-want[0].ClockS || s.PowerW != w.PowerW || s.CadenceRPM != w.CadenceRPM || s.Broken ||
			math.Abs(s.SpeedMPS-w.SpeedMPS) > 0.0006 || math.Abs(s.DistanceM-w.DistanceM) > 0.006 ||
			math.Abs(s.ElevationM-w.ElevationM) > 0.11 || geodesy.Chord(s.Pos, w.Pos) > 0.02 {
			t.Fatalf("sample %d: %+v, want %+v", i, s, w)
		}
	}
}

// TestFaults injects each fault into a clean recording: it is told, with its place, and
// nothing else is.
func TestFaults(t *testing.T) {
	clean := ridden(t, coursegen.PointToPoint, 4, ridegen.Ordinary())
	nan := math.NaN()
	mid := len(clean) / 2
	rolling := func(from int) int { // a place where the rider pedals fast
		for i := from; ; i++ {
			if clean[i].SpeedMPS > 7 && clean[i-1].SpeedMPS > 7 && clean[i].PowerW > 0 {
				return i
			}
		}
	}
	at := rolling(mid)
	level := 1 // where the road doesn't fall for 90 s
	for clean[level+90].ElevationM < clean[level].ElevationM || clean[level].SpeedMPS < 7 {
		level++
	}
	for name, c := range map[string]struct {
		fault   func(s []track.Sample) []track.Sample
		codes   []string
		atS     int
		formats string
	}{
		"no power for a while": {
			func(s []track.Sample) []track.Sample { return power(s, at, at+30, nan) },
			[]string{"power-missing"},
			at, "FIT TCX GPX",
		},
		"one sample of 65535 W": {
			func(s []track.Sample) []track.Sample { return power(s, at, at+1, 65535) },
			[]string{"power-missing", "power-out-of-range"},
			at, "TCX GPX",
		},
		"one sample of 3000 W": {
			func(s []track.Sample) []track.Sample { return power(s, at, at+1, 3000) },
			[]string{"power-missing", "power-out-of-range"},
			at, "FIT TCX GPX",
		},
		"one sample of 1900 W": {
			func(s []track.Sample) []track.Sample { return power(s, at, at+1, 1900) },
			[]string{"power-missing", "power-spike"},
			at, "FIT TCX GPX",
		},
		"power stuck": {
			func(s []track.Sample) []track.Sample { return power(s, at, at+40, 231) },
			[]string{"power-missing", "power-stuck"},
			at, "FIT TCX GPX",
		},
		"power zero while riding": {
			func(s []track.Sample) []track.Sample { return power(s, level, level+90, 0) },
			[]string{"power-dropped-out", "power-missing"},
			level, "FIT TCX GPX",
		},
		"power zero all along": {
			func(s []track.Sample) []track.Sample { return power(s, 0, len(s), 0) },
			[]string{"power-absent"},
			-1, "FIT TCX GPX",
		},
		"samples dropped": {
			func(s []track.Sample) []track.Sample { return slices.Delete(s, at, at+45) },
			[]string{"samples-dropped"},
			at - 1, "FIT TCX GPX",
		},
		"a pause": {
			func(s []track.Sample) []track.Sample { return pause(s, at, 240) },
			[]string{"paused"},
			at - 1, "FIT TCX GPX",
		},
		"a stop": {
			func(s []track.Sample) []track.Sample { return stand(s, at, 60) },
			[]string{"stops"},
			at - 1, "FIT TCX GPX",
		},
		"clock set ahead": {
			func(s []track.Sample) []track.Sample { return later(s, at, 3600) },
			[]string{"clock-set-ahead"},
			at - 1, "FIT TCX GPX",
		},
		"clock set back": {
			func(s []track.Sample) []track.Sample { return later(s, at, -30) },
			[]string{"clock-set-back"},
			at - 1, "FIT TCX GPX",
		},
		"clock set back to before the start": {
			func(s []track.Sample) []track.Sample { return later(s, at, -1e6) },
			[]string{"clock-set-back"},
			at - 1, "FIT TCX GPX",
		},
		"seconds written twice": {
			func(s []track.Sample) []track.Sample { return twice(s, at, 5) },
			[]string{"same-time"},
			at, "FIT TCX GPX",
		},
		"two samples the wrong way round": {
			func(s []track.Sample) []track.Sample {
				s[at], s[at+1] = s[at+1], s[at]
				return s
			},
			[]string{"unsorted"},
			at, "FIT TCX GPX",
		},
		"segments the wrong way round": {
			func(s []track.Sample) []track.Sample { return slices.Concat(s[at:], s[:at]) },
			[]string{"unsorted"},
			0, "FIT TCX GPX",
		},
		"written twice": {
			func(s []track.Sample) []track.Sample { return slices.Concat(s, s) },
			[]string{"same-time", "unsorted"},
			1, "FIT TCX GPX",
		},
		"from the last to the first": {
			func(s []track.Sample) []track.Sample {
				slices.Reverse(s)
				return s
			},
			[]string{"reversed"},
			0, "FIT TCX GPX",
		},
		"no position for a while": {
			func(s []track.Sample) []track.Sample {
				for i := at; i < at+20; i++ {
					s[i].Pos = geodesy.Vec{}
				}
				return s
			},
			[]string{"position-missing"},
			at, "FIT TCX",
		},
		"a position far off": {
			func(s []track.Sample) []track.Sample {
				s[at].Pos = geodesy.FromDegrees(0, 0)
				return s
			},
			[]string{"position-missing", "position-stray"},
			at, "FIT TCX GPX",
		},
		"the first position far off": {
			func(s []track.Sample) []track.Sample {
				s[0].Pos = geodesy.FromDegrees(0, 0)
				return s
			},
			[]string{"position-missing", "position-stray"},
			0, "FIT TCX GPX",
		},
		"position held": {
			func(s []track.Sample) []track.Sample {
				for i := at; i < at+15; i++ {
					s[i].Pos = s[at].Pos
				}
				return s
			},
			[]string{"position-held", "position-missing"},
			at + 1, "FIT TCX GPX",
		},
		"absurd speed": {
			func(s []track.Sample) []track.Sample {
				s[at].SpeedMPS = 300
				return s
			},
			[]string{"speed-out-of-range"},
			at, "FIT TCX GPX",
		},
		"a leap of elevation": {
			func(s []track.Sample) []track.Sample {
				s[at].ElevationM += 120
				return s
			},
			[]string{"elevation-spike"},
			at, "FIT TCX GPX",
		},
		"distance counted anew": {
			func(s []track.Sample) []track.Sample {
				for i, from := at, s[at].DistanceM; i < len(s); i++ {
					s[i].DistanceM -= from
				}
				return s
			},
			[]string{"distance-restarted"},
			at, "FIT TCX GPX",
		},
		"distance leaps": {
			func(s []track.Sample) []track.Sample {
				for i := at; i < len(s); i++ {
					s[i].DistanceM += 5000
				}
				return s
			},
			[]string{"distance-leaps"},
			at, "FIT TCX GPX",
		},
		"distance leaps and falls back": {
			func(s []track.Sample) []track.Sample {
				s[at].DistanceM += 5000
				return s
			},
			[]string{"distance-leaps"},
			at, "FIT TCX GPX",
		},
		"every fourth second or so": {
			func(s []track.Sample) []track.Sample {
				var kept []track.Sample
				for i := 0; i < len(s); i += 1 + (i/7)%6 {
					kept = append(kept, s[i])
				}
				return kept
			},
			[]string{"irregular-intervals"},
			-1, "FIT TCX GPX",
		},
		"another day's ride": {
			func(s []track.Sample) []track.Sample {
				other := slices.Clone(s[:at/2])
				for i := range other {
					other[i].ClockS += 24 * 3600
				}
				return append(s, other...)
			},
			[]string{"several-rides"},
			-1, "FIT TCX GPX",
		},
		"samples without a time": {
			func(s []track.Sample) []track.Sample {
				s[at].ClockS = nan
				return s
			},
			[]string{"time-missing"},
			-1, "TCX GPX",
		},
	} {
		for _, format := range strings.Fields(c.formats) {
			t.Run(name+" "+format, func(t *testing.T) {
				got := reread(t, format, c.fault(slices.Clone(clean)))
				if !slices.Equal(codes(got.Notes), c.codes) {
					t.Fatalf("%+v, want %v", got.Notes, c.codes)
				}
				for _, n := range got.Notes {
					if (c.atS < 0) != math.IsNaN(n.AtS) || c.atS >= 0 && math.Abs(n.AtS-float64(c.atS)) > 1 {
						t.Errorf("%+v, want it at %d s", n, c.atS)
					}
				}
			})
		}
	}
}

func power(s []track.Sample, from, to int, w float64) []track.Sample {
	for i := from; i < to; i++ {
		s[i].PowerW = w
	}
	return s
}

func later(s []track.Sample, from int, seconds float64) []track.Sample {
	for i := from; i < len(s); i++ {
		s[i].ClockS += seconds
	}
	return s
}

// slowed lets the rider come to a halt before sample i and start anew after it.
func slowed(s []track.Sample, i int) []track.Sample {
	for k := max(i-8, 0); k < min(i+8, len(s)); k++ {
		s[k].SpeedMPS = math.Abs(float64(k)-float64(i)+0.5) * 0.4
	}
	return s
}

// pause lets the device pause before sample i.
func pause(s []track.Sample, i int, seconds float64) []track.Sample {
	return later(slowed(s, i), i, seconds)
}

// stand lets the rider stand before sample i while the device goes on.
func stand(s []track.Sample, i, seconds int) []track.Sample {
	s = later(slowed(s, i), i, float64(seconds))
	var still []track.Sample
	for k := 1; k < seconds; k++ {
		p := s[i-1]
		p.ClockS += float64(k)
		p.SpeedMPS, p.PowerW, p.CadenceRPM, p.Begins = 0, 0, 0, false
		still = append(still, p)
	}
	return slices.Insert(s, i, still...)
}

// twice writes samples twice.
func twice(s []track.Sample, from, n int) []track.Sample {
	for k := range n {
		i := from + 2*k
		s = slices.Insert(s, i, s[i])
	}
	return s
}

func TestFilesThatAreNone(t *testing.T) {
	clean := ridden(t, coursegen.Circuit, 2, ridegen.Noise{})
	untimed := slices.Clone(clean)
	for i := range untimed {
		untimed[i].ClockS = math.NaN()
	}
	for name, c := range map[string]struct {
		samples []track.Sample
		code    string
	}{
		"a course":   {untimed, recording.CodeNoTimes},
		"one time":   {slices.Repeat(clean[5:6], 9), recording.CodeNoTimes},
		"one sample": {clean[:1], recording.CodeNoSamples},
		"nothing":    {nil, recording.CodeNoSamples},
	} {
		_, err := recording.ReadGPX(context.Background(), ridegen.GPX(c.samples), track.Limits{})
		var e *recording.Error
		if !errors.As(err, &e) || e.Code != c.code {
			t.Errorf("%s: %v, want %s", name, err, c.code)
		}
	}
}

// TestBrokenOff cuts files anywhere: what was recorded up to there is read.
func TestBrokenOff(t *testing.T) {
	clean := ridden(t, coursegen.Circuit, 2, ridegen.Noise{})[:200]
	for format, r := range readers() {
		whole, err := r.write(clean)
		if err != nil {
			t.Fatal(err)
		}
		for _, share := range []float64{0.3, 0.5, 0.77, 0.9} {
			got, err := r.read(context.Background(), whole[:int(share*float64(len(whole)))], track.Limits{})
			if err != nil {
				t.Fatal(format, share, err)
			}
			if n := len(got.Samples); math.Abs(float64(n)/200-share) > 0.05 {
				t.Errorf("%s: %d samples of %v", format, n, share)
			}
			if !slices.Equal(codes(got.Notes), []string{"file-breaks-off"}) {
				t.Errorf("%s: %+v", format, got.Notes)
			}
		}
	}
}
