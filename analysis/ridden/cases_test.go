package ridden_test

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
	"parcours.example/analysis/ridden"
	"parcours.example/analysis/track"
	"parcours.example/internal/ridegen"
)

// lapped is a round of several laps of less than 8 km.
func lapped(t *testing.T) round {
	t.Helper()
	for seed := uint64(1); ; seed++ {
		_, truth := coursegen.Random(coursegen.Lapped, seed)
		if truth.Laps >= 4 && truth.LengthM < 25_000 && truth.LapLengthM > 1500 {
			return roundOf(t, coursegen.Lapped, seed, ridegen.Ordinary())
		}
	}
}

// notesOf are the codes of a ride's notes.
func notesOf(r *ridden.Ride) string {
	var codes []string
	for _, n := range r.Notes {
		codes = append(codes, n.Code)
	}
	slices.Sort(codes)
	return strings.Join(codes, " ")
}

// when returns the first sample beyond a place.
func (r *round) when(atM float64) int {
	return slices.IndexFunc(r.truthM, func(m float64) bool { return m >= atM })
}

// TestPartOfTheCourse lays what was recorded of a part of a lapped course.
func TestPartOfTheCourse(t *testing.T) {
	r := lapped(t)
	lap := r.course.Laps.LengthM
	for name, c := range map[string]struct {
		fromM, toM float64
		// startM is where it may be laid at the earliest, which is the first lap that it
		// could be.
		startM float64
		whole  int // laps
	}{
		"the first lap":        {0, 1.2 * lap, 0, 1},
		"a lap in the middle":  {1.9 * lap, 3.1 * lap, 0.9 * lap, 1},
		"to the end":           {1.5 * lap, 1e9, 0.5 * lap, r.course.Laps.Count - 2},
		"less than a lap":      {0.3 * lap, 0.7 * lap, 0.3 * lap, 0},
		"all but the last lap": {0, r.course.LengthM() - 0.9*lap, 0, r.course.Laps.Count - 1},
	} {
		t.Run(name, func(t *testing.T) {
			to := r.when(c.toM)
			if to < 0 {
				to = len(r.samples)
			}
			for _, samples := range [][]track.Sample{r.samples, bare(r.samples)} {
				got, err := laid(t, r.course, samples[r.when(c.fromM):to], ridden.Options{})
				if err != nil {
					t.Fatal(err)
				}
				whole := 0
				for _, p := range got.Passes {
					if !math.IsNaN(p.TimeS()) {
						whole++
					}
				}
				if math.Abs(got.StartM-c.startM) > 15 || whole != c.whole || notesOf(got) != "partial-ride" {
					t.Errorf("from %.0f m to %.0f m, %d laps whole, want %.0f m and %d: %+v", got.StartM, got.EndM, whole, c.startM, c.whole, got.Notes)
				}
			}
		})
	}
}

// TestMoreThanTheCourse lays rides that begin before the course does and end after it.
func TestMoreThanTheCourse(t *testing.T) {
	r := lapped(t)
	length, lap := r.course.LengthM(), r.course.Laps.LengthM
	two := r.course.Cut(lap, 3*lap)
	got, err := laid(t, r.course.Cut(0.4*lap, 0.8*lap), r.samples, ridden.Options{})
	if err != nil || math.Abs(got.TimeS()-(r.timeAt(0.8*lap)-r.timeAt(0.4*lap))) > 3 {
		t.Errorf("a stretch of a lap: %v, %v", got, err)
	}
	if got, err = laid(t, two, r.samples, ridden.Options{}); err != nil || !(got.TimeS() > 0) || notesOf(got) != "" {
		t.Errorf("two laps of more: %+v, %v", got, err)
	}
	// A slow lap with a stop before the race is not of it.
	slow := slices.Clone(r.samples[:r.when(lap)])
	end := slow[len(slow)-1].ClockS - slow[0].ClockS
	for i := range slow {
		slow[i].ClockS = r.samples[0].ClockS - 300 - 2*end + 2*(slow[i].ClockS-slow[0].ClockS)
		slow[i].SpeedMPS /= 2
		slow[i].DistanceM = math.NaN()
	}
	got, err = laid(t, r.course, slices.Concat(slow, r.samples), ridden.Options{})
	if err != nil || math.Abs(got.TimeS()-r.ride.TimeS) > 2 || math.Abs(got.EndM-length) > 1 {
		t.Errorf("a lap to warm up: %.0f s, want %.0f s: %+v, %v", got.TimeS(), r.ride.TimeS, got.Notes, err)
	}
}

// TestAwayFromTheCourse lays rides that leave the course, stop on it, or have no positions
// or samples for a while.
func TestAwayFromTheCourse(t *testing.T) {
	r := lapped(t)
	lap := r.course.Laps.LengthM
	from, to := r.when(1.3*lap), r.when(1.3*lap+600)
	for name, c := range map[string]struct {
		change func(s []track.Sample) []track.Sample
		notes  string
		// lostM is how much of the course may be unknown, lateS what the ride takes longer.
		lostM, lateS float64
	}{
		"a detour": {func(s []track.Sample) []track.Sample {
			for i := from; i < to; i++ {
				f := geodesy.FrameAt(s[i].Pos)
				bow := 200 * math.Sin(math.Pi*float64(i-from)/float64(to-from))
				s[i].Pos = s[i].Pos.Add(f.East.Scale(bow)).Add(f.North.Scale(bow))
			}
			return s
		}, "stretch-unknown", 700, 0},
		"no reception": {func(s []track.Sample) []track.Sample {
			for i := from; i < to; i++ {
				s[i].Pos = geodesy.Vec{}
			}
			return s
		}, "position-missing", 60, 0},
		"samples dropped": {func(s []track.Sample) []track.Sample {
			return slices.Delete(s, from, to)
		}, "samples-dropped stretch-unknown", 660, 0},
		"a long stop": {func(s []track.Sample) []track.Sample {
			still := slices.Repeat(s[from:from+1], 300)
			for k := range still {
				still[k].ClockS += float64(k + 1)
				still[k].SpeedMPS, still[k].PowerW, still[k].CadenceRPM = 0, 0, 0
			}
			for i := from + 1; i < len(s); i++ {
				s[i].ClockS += 300
			}
			return slices.Insert(s, from+1, still...)
		}, "stops", 60, 300},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := laid(t, r.course, c.change(slices.Clone(r.samples)), ridden.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if notesOf(got) != c.notes || math.Abs(got.TimeS()-r.ride.TimeS-c.lateS) > 1.5 {
				t.Errorf("%.1f s of %.1f s, %+v", got.TimeS(), r.ride.TimeS, got.Notes)
			}
			stopped := 0.0
			for i, p := range got.Points {
				if i > 0 && p.AtM-got.Points[i-1].AtM > c.lostM {
					t.Errorf("from %+v to %+v", got.Points[i-1], p)
				}
				if p.Stopped && p.AtM > 100 {
					stopped += p.TimeS - got.Points[i-1].TimeS
				}
			}
			if math.Abs(stopped-c.lateS) > 10 {
				t.Errorf("stopped for %.0f s", stopped)
			}
		})
	}
}

// TestOtherRoads refuses rides that are not on the course, and says how far off they are.
func TestOtherRoads(t *testing.T) {
	r := lapped(t)
	turned := slices.Clone(r.samples)
	for i := range turned {
		turned[i].ClockS = -r.samples[len(turned)-1-i].ClockS + 2*ridegen.StartUnixS + float64(len(turned))
		turned[i].Pos = r.samples[len(turned)-1-i].Pos
		turned[i].DistanceM = math.NaN()
	}
	shifted := func(m float64) []track.Sample {
		s := slices.Clone(r.samples)
		for i := range s {
			f := geodesy.FrameAt(s[i].Pos)
			s[i].Pos = s[i].Pos.Add(f.East.Scale(m))
		}
		return s
	}
	for name, c := range map[string]struct {
		samples     []track.Sample
		code        string
		least, most float64 // away, in metres
		says        string
	}{
		"the other way":  {turned, ridden.CodeOtherDirection, 0, 20, "the other way"},
		"50 km east":     {shifted(50_000), ridden.CodeNotOnCourse, 35_000, 50_100, "km away"},
		"a street east":  {shifted(600), ridden.CodeNotOnCourse, 50, 600, "m away"},
		"a crossing":     {crossing(&r), ridden.CodeNotOnCourse, 50, 5000, "of the course were ridden"},
		"a few metres":   {r.samples[20:45], ridden.CodeTooShort, 0, 20, "m of the course were ridden"},
		"another course": {roundOf(t, coursegen.Circuit, 77, ridegen.Ordinary()).samples, ridden.CodeNotOnCourse, 1e5, 3e7, "km away"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := laid(t, r.course, c.samples, ridden.Options{})
			var e *ridden.Error
			if !errors.As(err, &e) || e.Code != c.code || !(e.AwayM >= c.least && e.AwayM <= c.most) || !strings.Contains(e.Detail, c.says) {
				t.Errorf("%+v", err)
			} else {
				t.Log(e.Detail)
			}
		})
	}
}

// crossing is a straight ride across the middle of a course.
func crossing(r *round) []track.Sample {
	s := slices.Clone(r.samples)
	middle := ridegen.On(r.course, r.course.LengthM()/3)
	f := geodesy.FrameAt(middle)
	for i := range s {
		s[i].Pos = middle.Add(f.North.Scale(8 * float64(i-len(s)/2)))
		s[i].DistanceM, s[i].SpeedMPS = 8*float64(i), 8
	}
	return s
}

// TestByDistance lays rides without positions.
func TestByDistance(t *testing.T) {
	r := lapped(t)
	still := slices.Clone(r.samples[:r.when(r.course.LengthM())])
	for i := range still {
		still[i].Pos = geodesy.Vec{}
	}
	got, err := laid(t, r.course, still, ridden.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if m := r.misses(got); m.placeM > 40 || m.speedMPS > 0.12 || !got.ByDistance || math.Abs(got.Scale-1) > 0.03 || notesOf(got) != "laid-by-distance" || !math.IsNaN(got.Deviation.MedianM) {
		t.Errorf("%+v, scale %.4f, %+v", m, got.Scale, got.Notes)
	}
	half := still[:len(still)/2]
	if got, err = laid(t, r.course, half, ridden.Options{}); err != nil || got.Scale != 1 || notesOf(got) != "laid-by-distance partial-ride" {
		t.Errorf("%+v, %v", got, err)
	}
}

// TestTrimming leaves out the start and the end.
func TestTrimming(t *testing.T) {
	r := lapped(t)
	for name, c := range map[string]struct {
		opt         ridden.Options
		first, last float64 // the places at which it begins and ends, of the samples'
	}{
		"metres":  {ridden.Options{TrimStartM: 500, TrimEndM: 700}, 500, r.truthM[len(r.truthM)-1] - 700},
		"seconds": {ridden.Options{TrimStartS: 100, TrimEndS: 60}, r.truthM[100], r.truthM[len(r.truthM)-61]},
	} {
		got, err := laid(t, r.course, r.samples, c.opt)
		if err != nil || math.Abs(got.StartM-c.first) > 20 || math.Abs(got.EndM-c.last) > 20 {
			t.Errorf("%s: %+v, %v", name, got, err)
		}
	}
	_, err := laid(t, r.course, r.samples, ridden.Options{TrimStartS: 1e6})
	var e *ridden.Error
	if !errors.As(err, &e) || e.Code != ridden.CodeTooShort {
		t.Errorf("%v", err)
	}
}

// TestSpeedsInAnotherUnit doesn't trust speeds that don't fit the course.
func TestSpeedsInAnotherUnit(t *testing.T) {
	r := lapped(t)
	s := slices.Clone(r.samples)
	for i := range s {
		s[i].SpeedMPS *= 2.2
	}
	got, err := laid(t, r.course, s, ridden.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if m := r.misses(got); m.speedMPS > 0.6 || !strings.Contains(notesOf(got), "speed-not-trusted") {
		t.Errorf("%+v, %+v", m, got.Notes)
	}
}

// TestCourseDrawnElsewhere lays rides on courses that were drawn from other recordings.
func TestCourseDrawnElsewhere(t *testing.T) {
	for seed := uint64(1); seed <= 4; seed++ {
		r := roundOf(t, coursegen.LeadIn, seed, ridegen.Ordinary())
		var points []track.Point
		for i := 0; i < len(r.course.Pos); i += 2 {
			points = append(points, track.Point{Pos: r.course.Pos[i], Elevation: r.course.Z[i]})
		}
		for i := range points {
			f := geodesy.FrameAt(points[i].Pos)
			points[i].Pos = points[i].Pos.Add(f.East.Scale(6 * math.Sin(float64(i)/9))).Add(f.North.Scale(6 * math.Cos(float64(i)/13)))
		}
		c, err := course.FromTrack(context.Background(), &track.Track{Points: points}, course.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		got, err := laid(t, c, r.samples, ridden.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got.TimeS()-r.ride.TimeS) > 5 || got.Deviation.MedianM > 10 {
			t.Errorf("seed %d: %.1f s of %.1f s, %+v, %+v", seed, got.TimeS(), r.ride.TimeS, got.Deviation, got.Notes)
		}
	}
}

// TestAbandoned stops when nobody waits.
func TestAbandoned(t *testing.T) {
	r := lapped(t)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var samples []recording.Sample
	for i, s := range r.samples {
		samples = append(samples, recording.Sample{TimeS: float64(i), Pos: s.Pos, HasPosition: true})
	}
	if _, err := ridden.Lay(ctx, r.course, &recording.Recording{Samples: samples}, ridden.Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}
