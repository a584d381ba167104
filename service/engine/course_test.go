package engine

import (
	"bytes"
	"context"
	"errors"
	"reflect"
	"sync"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

func TestCourseOfFile(t *testing.T) {
	e := newEngine(t, Config{})
	c, err := e.Course(t.Context(), fromFile(gpx("Oster loop", 200)))
	if err != nil {
		t.Fatal(err)
	}
	if len(c.ID) != 32 {
		t.Errorf("id %q, want 32 digits", c.ID)
	}
	if want := 199 * 20.0; c.LengthM() < want-20 || c.LengthM() > want+20 {
		t.Errorf("length %v m, want about %v", c.LengthM(), want)
	}
	if c.Name != "Oster loop" || len(c.Terrain.Climbs) != 1 || len(c.Marks) != 1 {
		t.Errorf("name %q, %d climbs, %d marks", c.Name, len(c.Terrain.Climbs), len(c.Marks))
	}
	again, err := e.Course(t.Context(), CourseSource{ID: c.ID})
	if err != nil || again != c {
		t.Errorf("by id: %p, %v; want the same course %p", again, err, c)
	}
}

func TestCourseFaults(t *testing.T) {
	e := newEngine(t, Config{Limits: Limits{ProfileSamples: 10}})
	for _, tc := range []struct {
		name string
		src  CourseSource
		want string
	}{
		{"nothing", CourseSource{}, CodeNotComputable},
		{"unknown id", CourseSource{ID: "00000000000000000000000000000000"}, ErrNotCached.Error()},
		{"no format", fromFile([]byte("no course")), track.CodeNotTheFormat},
		{"cut off", fromFile(gpx("x", 20)[:600]), track.CodeMalformed},
		{"long profile", fromProfile(11, 0), CodeTooMany},
		{"elevations missing", CourseSource{Profile: &Profile{DistanceM: []float64{0, 100, 200}, ElevationM: []float64{1, 2}}}, CodeNotComputable},
	} {
		t.Run(tc.name, func(t *testing.T) {
			_, err := e.Course(t.Context(), tc.src)
			if got := codeOf(err); got != tc.want {
				t.Errorf("code %q, want %q", got, tc.want)
			}
		})
	}
	if n := e.courses.bytes(); n != 0 {
		t.Errorf("%d bytes cached after faults alone", n)
	}
	if _, err := e.Course(t.Context(), fromProfile(10, 0)); err != nil {
		t.Errorf("a profile at the limit: %v", err)
	}
}

func TestProfileTooLongTellsBothNumbers(t *testing.T) {
	e := newEngine(t, Config{Limits: Limits{ProfileSamples: 10}})
	_, err := e.Course(t.Context(), fromProfile(12, 0))
	var asked *Error
	if !errors.As(err, &asked) || asked.Limit != 10 || asked.Actual != 12 {
		t.Errorf("%#v, want limit 10 and actual 12", err)
	}
}

func TestSameBytesAreReadOnce(t *testing.T) {
	e := newEngine(t, Config{})
	src := fromFile(gpx("Oster loop", 100))
	first, err := e.Course(t.Context(), src)
	if err != nil {
		t.Fatal(err)
	}
	second, err := e.Course(t.Context(), src)
	if err != nil || second != first {
		t.Errorf("again: %p, %v; want %p", second, err, first)
	}
	if n := e.runs(t, stageRead); n != 1 {
		t.Errorf("read %d times", n)
	}
	if hits, misses := counted(t, e.meter.hits), counted(t, e.meter.misses); hits != 1 || misses != 1 {
		t.Errorf("%d hits and %d misses, want one each", hits, misses)
	}
}

func TestSamePointsAreOneCourse(t *testing.T) {
	e := newEngine(t, Config{})
	content := gpx("Oster loop", 100)
	first, err := e.Course(t.Context(), fromFile(content))
	if err != nil {
		t.Fatal(err)
	}
	spaced := bytes.ReplaceAll(content, []byte("<trkpt"), []byte("\n   <trkpt"))
	second, err := e.Course(t.Context(), fromFile(spaced))
	if err != nil || second != first {
		t.Errorf("other white space: %p, %v; want %p", second, err, first)
	}
	if n := e.runs(t, stageCourse); n != 1 {
		t.Errorf("made %d times", n)
	}
	named := fromFile(gpx("Other name", 100))
	named.Options.Name = "Oster loop"
	third, err := e.Course(t.Context(), named)
	if err != nil || third != first {
		t.Errorf("the same name by option: %p, %v; want %p", third, err, first)
	}
}

func TestEveryOptionChangesTheID(t *testing.T) {
	e := newEngine(t, Config{})
	options := map[string]func(*CourseOptions){
		"none":      func(*CourseOptions) {},
		"name":      func(o *CourseOptions) { o.Name = "Another" },
		"reverse":   func(o *CourseOptions) { o.Reverse = true },
		"smoothing": func(o *CourseOptions) { o.Smoothing = course.Light },
		"spacing":   func(o *CourseOptions) { o.SpacingM = 20 },
		"threshold": func(o *CourseOptions) { o.AscentThresholdM = 3 },
		"start":     func(o *CourseOptions) { o.StartM = 300 },
		"end":       func(o *CourseOptions) { o.EndM = 300 },
		"lap line":  func(o *CourseOptions) { o.LapLine = "Mill" },
		"mark":      func(o *CourseOptions) { o.Marks = []track.Mark{{Name: "Mill", AtM: 300}} },
		"its kind":  func(o *CourseOptions) { o.Marks = []track.Mark{{Name: "Mill", AtM: 300, Kind: track.Sprint}} },
		"its name":  func(o *CourseOptions) { o.Marks = []track.Mark{{Name: "Mills", AtM: 300}} },
		"its place": func(o *CourseOptions) { o.Marks = []track.Mark{{Name: "Mill", Pos: geodesy.FromDegrees(47.301, 3.1)}} },
		"its way": func(o *CourseOptions) {
			o.Marks = []track.Mark{{Name: "Mill", Pos: geodesy.FromDegrees(47.301, 3.1), Directed: true}}
		},
		"its heading": func(o *CourseOptions) {
			o.Marks = []track.Mark{{Name: "Mill", Pos: geodesy.FromDegrees(47.301, 3.1), Directed: true, HeadingDeg: 10}}
		},
		"the start": func(o *CourseOptions) { o.Marks = []track.Mark{{Name: "Mill"}} },
		"off Africa": func(o *CourseOptions) {
			o.Marks = []track.Mark{{Name: "Mill", Pos: geodesy.FromDegrees(0, 0)}}
		},
	}
	content := gpx("Oster loop", 100)
	seen, keys := map[string]string{}, map[string]string{}
	for name, set := range options {
		var id string
		for range 2 { // equal options, equal ids
			src := fromFile(content)
			set(&src.Options)
			c, err := e.Course(t.Context(), src)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if id != "" && c.ID != id {
				t.Errorf("%s: two ids for one course", name)
			}
			id = c.ID
			key := fileKey("gpx", content, src.Options)
			if other, ok := keys[key]; ok && other != name {
				t.Errorf("%s and %s have the same key", name, other)
			}
			keys[key] = name
		}
		if other, ok := seen[id]; ok {
			t.Errorf("%s and %s have the same id", name, other)
		}
		seen[id] = name
	}
}

func TestSpacingHasNoEffectWithoutSmoothing(t *testing.T) {
	a := CourseOptions{Options: course.Options{Smoothing: course.None, SpacingM: 5}}
	b := CourseOptions{Options: course.Options{Smoothing: course.None, SpacingM: 50}}
	p := fromProfile(10, 0).Profile
	if profileID(p, a.effective("")) != profileID(p, b.effective("")) {
		t.Error("two ids for one course")
	}
}

func TestColdEnginesAgree(t *testing.T) {
	var want *Course
	for range 2 {
		e := newEngine(t, Config{})
		got, err := e.Course(t.Context(), fromFile(gpx("Oster loop", 300)))
		if err != nil {
			t.Fatal(err)
		}
		if want != nil && (got.ID != want.ID || !reflect.DeepEqual(got.S, want.S) || !reflect.DeepEqual(got.Terrain.Climbs, want.Terrain.Climbs)) {
			t.Error("two engines made two courses of one file")
		}
		want = got
	}
}

func TestManyCallersShareOneComputation(t *testing.T) {
	e := newEngine(t, Config{Workers: 1})
	_, leave, err := e.admit.enter(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	src := fromFile(gpx("Oster loop", 100))
	const callers = 200
	courses := make([]*Course, callers)
	var all sync.WaitGroup
	for i := range callers {
		all.Go(func() {
			c, err := e.Course(context.Background(), src)
			if err != nil {
				t.Error(err)
			}
			courses[i] = c
		})
	}
	eventually(t, "all callers past the cache", func() bool { return counted(t, e.meter.misses) == callers })
	leave()
	all.Wait()
	for _, c := range courses {
		if c == nil || c != courses[0] {
			t.Fatalf("not all callers got the one course")
		}
	}
	if n := e.runs(t, stageRead); n != 1 {
		t.Errorf("read %d times", n)
	}
}

func TestCancelledCallerDoesNotFailTheOthers(t *testing.T) {
	e := newEngine(t, Config{Workers: 1})
	_, leave, err := e.admit.enter(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	src := fromFile(gpx("Oster loop", 100))
	ctx, cancel := context.WithCancel(t.Context())
	first := make(chan error, 1)
	go func() { _, err := e.Course(ctx, src); first <- err }()
	eventually(t, "the first caller past the cache", func() bool { return counted(t, e.meter.misses) == 1 })
	second := make(chan error, 1)
	go func() { _, err := e.Course(context.Background(), src); second <- err }()
	eventually(t, "the second caller past the cache", func() bool { return counted(t, e.meter.misses) == 2 })
	cancel()
	if err := <-first; !errors.Is(err, context.Canceled) {
		t.Errorf("the cancelled caller got %v", err)
	}
	leave()
	if err := <-second; err != nil {
		t.Errorf("the other caller got %v", err)
	}
	if n := e.runs(t, stageRead); n != 1 {
		t.Errorf("read %d times", n)
	}
}

func TestPanicInAComputationIsAnError(t *testing.T) {
	e := newEngine(t, Config{})
	_, err := e.flights.shared(t.Context(), "key", func(context.Context) (*Course, error) { panic("a fault of ours") })
	var caught *PanicError
	if !errors.As(err, &caught) || caught.Value != "a fault of ours" || !bytes.Contains(caught.Stack, []byte("course_test.go")) {
		t.Errorf("%#v, want the panic with its stack", err)
	}
	if _, err := e.Course(t.Context(), fromProfile(10, 0)); err != nil {
		t.Errorf("the next call: %v", err)
	}
}
