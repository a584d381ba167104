package brief

import (
	"bytes"
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"parcours.example/analysis/course"
)

// TestTrust holds what each kind of fault is told as.
func TestTrust(t *testing.T) {
	everywhere := math.NaN()
	for _, c := range []struct {
		desc     string
		warnings []course.Warning
		want     []string
	}{
		{"none", nil, nil},
		{"unknown", []course.Warning{{Code: "something-else", AtM: 3}}, nil},
		{"noise", []course.Warning{{Code: "elevation-noisy", AtM: everywhere}}, []string{"Elevations scatter by about 0.8 m: gradients over short stretches are rough."}},
		{"steps", []course.Warning{{Code: "elevation-quantised", AtM: everywhere}}, []string{"Elevations come in coarse steps: gradients over short stretches are rough."}},
		{
			"noise and steps",
			[]course.Warning{{Code: "elevation-noisy", AtM: everywhere}, {Code: "elevation-quantised", AtM: everywhere}},
			[]string{"Elevations scatter by about 0.8 m: gradients over short stretches are rough."},
		},
		{"spikes", []course.Warning{{Code: "spikes-repaired", AtM: 4120}}, []string{"Jumps in the line or its elevations were mended at 4.1 km."}},
		{"a hole", []course.Warning{{Code: "elevation-missing", AtM: 0}}, []string{"Elevations are missing at the start; what lies between is bridged."}},
		{
			"gaps",
			[]course.Warning{{Code: "gap", AtM: 900}, {Code: "gap", AtM: 2000}, {Code: "gap", AtM: 3000}},
			[]string{"Points are missing in three places, first at 900 m; the line is straight there."},
		},
		{"sparse", []course.Warning{{Code: "sparse-points", AtM: everywhere}}, []string{"Points stand about 130 m apart: bends and short steep pitches may be missing."}},
		{"closed lap", []course.Warning{{Code: "lap-closed", AtM: 5000}}, []string{"The ends of the lap don't meet in the file and were joined."}},
		{
			"lap's elevations",
			[]course.Warning{{Code: "lap-elevation-spread", AtM: everywhere}},
			[]string{"The ends of the lap differ in elevation; the difference is spread over the lap."},
		},
		{"a place taken", []course.Warning{{Code: "mark-off-course", AtM: 70}}, nil},
		{
			"a place left out",
			[]course.Warning{{Code: "mark-off-course", AtM: everywhere}},
			[]string{"One named place lies far off the course and is left out."},
		},
		{
			"places left out",
			[]course.Warning{{Code: "mark-off-course", AtM: everywhere}, {Code: "mark-off-course", AtM: everywhere}},
			[]string{"Two named places lie far off the course and are left out."},
		},
	} {
		in := rolling()
		in.Course.Quality.Warnings = c.warnings
		in.Course.Quality.ElevationNoiseM, in.Course.Quality.MedianStepM = 0.81, 128
		if got := section(Write(in), "How far to trust the file"); !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.desc, got, c.want)
		}
	}
}

// untold are the codes that a brief leaves out: what they tell changes nothing for a
// rider, or another sentence says it.
var untold = []string{
	"altitude-above-ground", "column-ignored", "content-after-end", "decimal-comma", "decimals-assumed", "distance-falls-back", "distance-missing", "distance-repeated",
	"distance-unreadable", "duplicate-elevations", "encoding-guessed", "geometry-unknown", "gradient-unit-assumed", "mark-without-place",
	"marks-dropped", "points-dropped", "ring-as-line", "segment-gap", "several-files", "spaces-in-coordinates", "turns-left-out", "version-unknown",
}

// TestEveryWarningIsKnown demands that a brief tells every warning that readers and
// courses give, or leaves it out on purpose, and that the contract lists it.
func TestEveryWarningIsKnown(t *testing.T) {
	contract, err := os.ReadFile("../../openapi.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, code := range warningCodes(t) {
		if !bytes.Contains(contract, []byte("`"+code+"`")) {
			t.Errorf("%s: the contract doesn't list it", code)
		}
		in := rolling()
		in.Course.Quality.MedianStepM, in.Course.Quality.ElevationNoiseM = 128, 0.8
		in.Course.Quality.Warnings = []course.Warning{{Code: code, AtM: math.NaN()}}
		told := section(Write(in), "How far to trust the file") != nil
		if left := slices.Contains(untold, code); told == left {
			t.Errorf("%s: told %v, left out on purpose %v", code, told, left)
		}
	}
}

// warningCodes reads the codes of warnings from the sources: the words with hyphens
// that aren't the codes of errors.
func warningCodes(t *testing.T) []string {
	t.Helper()
	isCode := regexp.MustCompile(`^"[a-z]+(-[a-z]+)+"$`)
	seen := map[string]bool{}
	for _, dir := range []string{"course", "track"} {
		names, err := filepath.Glob(filepath.Join("..", dir, "*.go"))
		if err != nil || len(names) == 0 {
			t.Fatalf("%s: %v", dir, err)
		}
		for _, name := range names {
			if strings.HasSuffix(name, "_test.go") || strings.HasSuffix(name, "samples.go") { // what recordings are read with, of which briefs tell nothing
				continue
			}
			file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(file, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.ValueSpec: // constants are the codes of errors
					return false
				case *ast.BasicLit:
					if isCode.MatchString(n.Value) {
						seen[strings.Trim(n.Value, `"`)] = true
					}
				}
				return true
			})
		}
	}
	return slices.Sorted(maps.Keys(seen))
}

// section returns the lines under a heading, nil without it.
func section(b *Brief, heading string) []string {
	for _, s := range b.Sections {
		if s.Heading == heading {
			return s.Lines
		}
	}
	return nil
}
