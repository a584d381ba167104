package engine

import (
	"errors"
	"os"
	"runtime"
	"testing"

	"github.com/prometheus/client_golang/prometheus"
)

func TestCacheIsBoundedByBytes(t *testing.T) {
	const most = 2 << 20
	e := newEngine(t, Config{CacheBytes: most})
	var ids []string
	for seed := range 60 {
		c, err := e.Course(t.Context(), fromProfile(400, seed))
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, c.ID)
	}
	e.courses.courses.CleanUp()
	if n := e.courses.bytes(); n == 0 || n > most {
		t.Errorf("%d bytes cached, want up to %d", n, most)
	}
	eventually(t, "evictions counted", func() bool { return counted(t, e.meter.evictions) > 0 })
	gone := 0
	for _, id := range ids {
		if _, err := e.Course(t.Context(), CourseSource{ID: id}); errors.Is(err, ErrNotCached) {
			gone++
		}
	}
	if gone == 0 || gone == len(ids) {
		t.Errorf("%d of %d courses are gone", gone, len(ids))
	}
}

func TestCourseThatLeftTheCacheIsMadeAgain(t *testing.T) {
	e := newEngine(t, Config{})
	src := fromFile(gpx("Oster loop", 100))
	first, err := e.Course(t.Context(), src)
	if err != nil {
		t.Fatal(err)
	}
	e.courses.courses.InvalidateAll()
	second, err := e.Course(t.Context(), src)
	if err != nil || second.ID != first.ID {
		t.Errorf("%v, %v", second, err)
	}
	if n := e.runs(t, stageRead); n != 2 {
		t.Errorf("read %d times, want 2", n)
	}
}

func TestWeightGrowsWithTheCourse(t *testing.T) {
	e := newEngine(t, Config{})
	short, err := e.Course(t.Context(), fromProfile(100, 0))
	if err != nil {
		t.Fatal(err)
	}
	long, err := e.Course(t.Context(), fromProfile(10_000, 0))
	if err != nil {
		t.Fatal(err)
	}
	// Elevation, ascent and descent stand beside the axis.
	if least := uint64(len(long.S) * 4 * 8); weigh(long) < least {
		t.Errorf("a course of %d nodes weighs %d, less than its arrays' %d", len(long.S), weigh(long), least)
	}
	if weigh(short) >= weigh(long) {
		t.Errorf("weights %d and %d", weigh(short), weigh(long))
	}
}

func TestMetricsAreRegisteredOnce(t *testing.T) {
	r := prometheus.NewRegistry()
	newEngine(t, Config{Registerer: r})
	if _, err := New(Config{Registerer: r}); err == nil {
		t.Error("two engines share their metrics' names")
	}
	families, err := r.Gather()
	if err != nil {
		t.Fatal(err)
	}
	names := map[string]bool{}
	for _, f := range families {
		names[f.GetName()] = true
	}
	for _, name := range []string{
		"parcours_cache_hits_total", "parcours_cache_misses_total", "parcours_cache_evictions_total",
		"parcours_cache_bytes", "parcours_inflight", "parcours_busy_total",
	} {
		if !names[name] {
			t.Errorf("no metric %s", name)
		}
	}
}

func TestConfigFaultsAreNamedTogether(t *testing.T) {
	_, err := New(Config{CacheBytes: -1, Workers: -1, QueueWait: -1})
	var joined interface{ Unwrap() []error }
	if !errors.As(err, &joined) || len(joined.Unwrap()) != 3 {
		t.Errorf("%v, want three faults", err)
	}
}

// TestCoursesWeighWhatTheyTake demands that the estimate of a course's memory isn't far
// below what it takes.
func TestCoursesWeighWhatTheyTake(t *testing.T) {
	const courses = 10
	content, err := os.ReadFile("../../testdata/season/hoskerrow-eight-recorded.gpx")
	if err != nil {
		t.Fatal(err)
	}
	e := newEngine(t, Config{})
	before, weight := heapBytes(), uint64(0)
	for i := range courses {
		src := fromFile(content)
		src.Options.AscentThresholdM = 1 + float64(i)/100
		c, err := e.Course(t.Context(), src)
		if err != nil {
			t.Fatal(err)
		}
		weight += weigh(c)
	}
	if took := heapBytes() - before; float64(took) > 1.25*float64(weight) {
		t.Errorf("%d courses take %d bytes and are said to take %d", courses, took, weight)
	}
}

// heapBytes returns the memory in use.
func heapBytes() uint64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.GC()
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}
