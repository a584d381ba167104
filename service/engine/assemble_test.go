package engine

import (
	"errors"
	"math"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/track"
)

// whole is a part of an assembly without bounds.
func whole(src CourseSource) AssemblyPart {
	return AssemblyPart{Course: src, FromM: math.NaN(), ToM: math.NaN(), Repeat: 1}
}

// flat is a table of n samples 50 m apart without a rise.
func flat(n int) CourseSource {
	src := fromProfile(n, 0)
	for i := range src.Profile.ElevationM {
		src.Profile.ElevationM[i] = 100
	}
	return src
}

func TestAssembleIsACourseLikeAnyOther(t *testing.T) {
	e := newEngine(t, Config{})
	file := whole(fromFile(gpx("Oster loop", 100)))
	back := file
	back.Reverse = true
	asked := Assembly{AscentThresholdM: 1, Parts: []AssemblyPart{file, back}}
	c, err := e.Assemble(t.Context(), asked)
	if err != nil {
		t.Fatal(err)
	}
	if c.Name != "Oster loop" || c.Options.Name != c.Name || len(c.Assembly) != 2 || !c.Assembly[1].Reverse {
		t.Errorf("name %q, options %+v, parts %+v", c.Name, c.Options, c.Assembly)
	}
	if want := 2 * 99 * 20.0; math.Abs(c.LengthM()-want) > 20 || c.Shape != course.OutAndBack {
		t.Errorf("%v m, %s; want about %v m out and back", c.LengthM(), c.Shape, want)
	}
	if again, err := e.Course(t.Context(), CourseSource{ID: c.ID}); err != nil || again != c {
		t.Errorf("by id: %p, %v; want %p", again, err, c)
	}
	if again, err := e.Assemble(t.Context(), asked); err != nil || again != c {
		t.Errorf("again: %p, %v; want %p", again, err, c)
	}
	byID := Assembly{AscentThresholdM: 1, Parts: []AssemblyPart{whole(CourseSource{ID: c.ID})}}
	if _, err := e.Assemble(t.Context(), byID); err != nil {
		t.Errorf("an assembly as a part: %v", err)
	}
}

func TestEveryOptionOfAnAssemblyChangesTheID(t *testing.T) {
	e := newEngine(t, Config{})
	seen := map[string]string{}
	for name, change := range map[string]func(*Assembly){
		"nothing":     func(*Assembly) {},
		"name":        func(a *Assembly) { a.Name = "Another" },
		"threshold":   func(a *Assembly) { a.AscentThresholdM = 3 },
		"mark":        func(a *Assembly) { a.Marks = []track.Mark{{Name: "Mill", AtM: 30}} },
		"from":        func(a *Assembly) { a.Parts[0].FromM = 50 },
		"to":          func(a *Assembly) { a.Parts[0].ToM = 300 },
		"reverse":     func(a *Assembly) { a.Parts[0].Reverse = true },
		"another way": func(a *Assembly) { a.Parts[1].Reverse = true },
		"one less":    func(a *Assembly) { a.Parts = a.Parts[:1] },
		"option of a part": func(a *Assembly) {
			a.Parts[0].Course.Options.AscentThresholdM = 7
		},
	} {
		a := Assembly{AscentThresholdM: 1, Parts: []AssemblyPart{whole(flat(20)), whole(flat(20))}}
		change(&a)
		c, err := e.Assemble(t.Context(), a)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if other, ok := seen[c.ID]; ok {
			t.Errorf("%s and %s have the same id", name, other)
		}
		seen[c.ID] = name
	}
}

// TestBoundsAreReadOffAnswers demands that the end of a part as an answer rounds it is
// the part's end.
func TestBoundsAreReadOffAnswers(t *testing.T) {
	e := newEngine(t, Config{})
	src := fromFile(gpx("Oster loop", 100))
	c, err := e.Course(t.Context(), src)
	if err != nil {
		t.Fatal(err)
	}
	want, err := e.Assemble(t.Context(), Assembly{Parts: []AssemblyPart{whole(src)}})
	if err != nil {
		t.Fatal(err)
	}
	for _, off := range []float64{-0.0005, 0, 0.0005} {
		part := whole(src)
		part.FromM, part.ToM = 0, c.LengthM()+off
		if got, err := e.Assemble(t.Context(), Assembly{Parts: []AssemblyPart{part}}); err != nil || got != want {
			t.Errorf("%v m off the end: %v", off, err)
		}
	}
}

func TestAssemblyFaults(t *testing.T) {
	e := newEngine(t, Config{})
	high := flat(20)
	for i := range high.Profile.ElevationM {
		high.Profile.ElevationM[i] = 900
	}
	bounded := func(from, to float64) AssemblyPart {
		part := whole(flat(20))
		part.FromM, part.ToM = from, to
		return part
	}
	repeated := func(src CourseSource, n int) AssemblyPart {
		part := whole(src)
		part.Repeat = n
		return part
	}
	placed := func(part AssemblyPart, at string) AssemblyPart {
		part.Course.Pointer = at
		return part
	}
	for _, tc := range []struct {
		name     string
		asked    Assembly
		code, at string
	}{
		{"not cached", Assembly{Parts: []AssemblyPart{whole(flat(20)), placed(whole(CourseSource{ID: "x"}), "#/parts/1/course")}}, ErrNotCached.Error(), "#/parts/1/course/course_id"},
		{"a damaged file", Assembly{Parts: []AssemblyPart{placed(whole(fromFile(gpx("x", 20)[:600])), "#/parts/0/course")}}, track.CodeMalformed, "#/parts/0/course/file"},
		{"apart", Assembly{Parts: []AssemblyPart{whole(flat(20)), whole(high)}}, course.CodePartsDoNotJoin, "#/parts/1"},
		{"a start beyond", Assembly{Parts: []AssemblyPart{whole(flat(20)), bounded(2000, math.NaN())}}, course.CodeCutOutside, "#/parts/1/from_m"},
		{"an end beyond", Assembly{Parts: []AssemblyPart{bounded(0, 2000)}}, course.CodeCutOutside, "#/parts/0/to_m"},
		{"a mark beyond", Assembly{Parts: []AssemblyPart{whole(flat(20))}, Marks: []track.Mark{{Name: "Mill", AtM: 2000}}}, course.CodeMarkOutside, "#/marks/0"},
		{"no lap", Assembly{Parts: []AssemblyPart{repeated(fromFile(gpx("x", 50)), 2)}}, course.CodePartsDoNotJoin, "#/parts/0"},
	} {
		_, err := e.Assemble(t.Context(), tc.asked)
		at := ""
		var placed *PlacedError
		var asked *Error
		if errors.As(err, &placed) {
			at = placed.Pointer
		} else if errors.As(err, &asked) {
			at = asked.Pointer
		}
		if codeOf(err) != tc.code || at != tc.at {
			t.Errorf("%s: %v with code %q at %q, want %q at %q", tc.name, err, codeOf(err), at, tc.code, tc.at)
		}
	}
}
