package engine

import (
	"fmt"
	"math"
	"unsafe"

	"github.com/maypok86/otter/v2"
	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
)

// frontEntries bounds the map from file keys to ids; each entry takes some 200
// bytes.
const frontEntries = 1 << 14

// courseCache keeps analysed courses by id as long as their bytes fit, and knows
// which id a file's bytes led to.
type courseCache struct {
	courses *otter.Cache[string, *Course]
	front   *otter.Cache[string, string]
}

func newCourseCache(maxBytes int64, evictions prometheus.Counter) (*courseCache, error) {
	courses, err := otter.New(&otter.Options[string, *Course]{
		MaximumWeight: uint64(maxBytes),
		Weigher:       func(_ string, c *Course) uint32 { return uint32(min(weigh(c), math.MaxUint32)) },
		OnDeletion: func(e otter.DeletionEvent[string, *Course]) {
			if e.WasEvicted() {
				evictions.Inc()
			}
		},
	})
	if err != nil {
		return nil, fmt.Errorf("engine: cache: %w", err)
	}
	front, err := otter.New(&otter.Options[string, string]{MaximumSize: frontEntries})
	if err != nil {
		return nil, fmt.Errorf("engine: cache: %w", err)
	}
	return &courseCache{courses: courses, front: front}, nil
}

// byID returns a cached course.
func (c *courseCache) byID(id string) (*Course, bool) {
	return c.courses.GetIfPresent(cacheKey(id))
}

// byFile returns the cached course that a file led to.
func (c *courseCache) byFile(key string) (*Course, bool) {
	id, ok := c.front.GetIfPresent(key)
	if !ok {
		return nil, false
	}
	return c.byID(id)
}

// put keeps a course.
func (c *courseCache) put(course *Course) { c.courses.Set(cacheKey(course.ID), course) }

// remember notes which id a file leads to.
func (c *courseCache) remember(fileKey, id string) { c.front.Set(fileKey, id) }

// bytes returns the estimated memory of all cached courses.
func (c *courseCache) bytes() uint64 { return c.courses.WeightedSize() }

func (c *courseCache) close() {
	c.courses.StopAllGoroutines()
	c.front.StopAllGoroutines()
}

// hiddenBytes is what a course with positions keeps for itself at each node, to find
// ground that is ridden again: 70 to 120 bytes were measured on the season's courses.
const hiddenBytes = 120

// weigh estimates the memory of a course in bytes. The arrays along the course
// make nearly all of it; of the rest only what can be long is counted.
func weigh(c *Course) uint64 {
	const overhead = 4 << 10 // structs, ids, keys, the cache's own entry
	n := overhead + len(c.Name)
	for _, a := range [][]float64{c.S, c.Z, c.Heading, c.Curvature, c.AscentTo, c.DescentTo} {
		n += sizeOf(a)
	}
	if c.HasPositions() {
		n += hiddenBytes * len(c.S)
	}
	n += sizeOf(c.Pos) + sizeOf(c.Parts) + sizeOf(c.Repeats) + sizeOf(c.Quality.Warnings)
	for _, m := range c.Marks {
		n += sizeOf(m.At) + len(m.Name)
	}
	n += sizeOf(c.Marks) + sizeOf(c.OtherCircuits)
	for _, m := range c.Options.Marks {
		n += len(m.Name)
	}
	n += sizeOf(c.Options.Marks) + sizeOf(c.Assembly)
	for _, w := range c.Quality.Warnings {
		n += len(w.Detail)
	}
	return uint64(n + weighTerrain(c.Terrain))
}

func weighTerrain(t *terrain.Terrain) int {
	n := sizeOf(t.Climbs) + sizeOf(t.Descents) + sizeOf(t.Marks) + sizeOf(t.Bends) + sizeOf(t.Climbing.ByPart) + sizeOf(t.Climbing.FalseFlats)
	for _, c := range t.Climbs {
		n += sizeOf(c.Sections) + sizeOf(c.Steepest) + sizeOf(c.Passes)
	}
	for _, d := range t.Descents {
		n += sizeOf(d.Passes) + sizeOf(d.SharpestBends)
	}
	for _, f := range t.Climbing.FalseFlats {
		n += sizeOf(f.Passes)
	}
	for _, m := range t.Marks {
		n += sizeOf(m.Passes)
		for _, p := range m.Passes {
			n += sizeOf(p.Approach)
		}
	}
	return n
}

// element is what the long lists of a course are made of.
type element interface {
	float64 | geodesy.Vec | track.Mark | AssembledPart | course.Part | course.Repeat | course.OtherCircuit | course.Mark | course.Warning |
		terrain.Climb | terrain.Descent | terrain.Mark | terrain.MarkPass | terrain.Approach | terrain.Bend |
		terrain.Stretch | terrain.Window | terrain.Pass | terrain.PartClimbing | terrain.FalseFlat
}

// sizeOf returns the memory of a list in bytes without what its elements refer to.
func sizeOf[E element](list []E) int {
	var e E
	return cap(list) * int(unsafe.Sizeof(e))
}
