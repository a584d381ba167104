package engine

import (
	"bytes"
	"context"
	"encoding/gob"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
	"parcours.example/internal/seeded"
)

// A course that came from another replica is the same in all that is stored, and finds the
// passes of any place as the first one does.
func TestSharedCourseIsTheSame(t *testing.T) {
	e := newEngine(t, Config{})
	files, err := filepath.Glob("../../testdata/season/*.gpx")
	if err != nil || len(files) == 0 {
		t.Fatal(err)
	}
	files = append(files, "../../testdata/examples/orchard-loop.profile.csv", "../../testdata/recorded/city-ride.gpx")
	r := rand.New(rand.NewPCG(seeded.First(t), 0))
	for _, file := range files {
		content, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, opt := range []course.Options{course.Defaults(), {SpacingM: 10, Smoothing: course.None, AscentThresholdM: 3, Reverse: true}} {
			c, err := e.Course(t.Context(), CourseSource{File: &File{Content: content}, Options: CourseOptions{Options: opt}})
			if err != nil {
				t.Fatalf("%s: %v", file, err)
			}
			data, err := encodeShared(c)
			if err != nil {
				t.Fatal(err)
			}
			got, err := decodeShared(c.ID, data)
			if err != nil {
				t.Fatalf("%s: %v", file, err)
			}
			if again, err := encodeShared(got); err != nil || !bytes.Equal(again, data) {
				t.Errorf("%s: another course came back (%v)", file, err)
			}
			if !bytes.Equal(gobOf(t, dissect(got.Course)), gobOf(t, dissect(c.Course))) {
				t.Errorf("%s: its terrain is another", file)
			}
			for range 20 {
				at := r.Float64() * c.LengthM()
				if a, b := c.Passes(at), got.Passes(at); !reflect.DeepEqual(a, b) {
					t.Fatalf("%s: %v is passed at %v, not at %v", file, at, b, a)
				}
			}
			if _, err := decodeShared("another", data); err == nil {
				t.Error("taken for another course")
			}
		}
	}
}

func gobOf(t *testing.T, v any) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := gob.NewEncoder(&b).Encode(v); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// dissect returns the terrain of a course that is waited for.
func dissect(c *course.Course) *terrain.Terrain {
	t, err := terrain.Analyse(context.Background(), c)
	if err != nil {
		panic(err) // the context has no end
	}
	return t
}
