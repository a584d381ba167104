package analysis_test

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"parcours.example/analysis"
)

// goldenFolders hold rendered results. Whoever changes one of them changes a number or
// a word that callers may have kept under the engine's version.
var goldenFolders = []string{"brief/testdata/*", "picture/testdata/*", "../service/testdata/*", "../api/testdata/*"}

// TestGoldensBelongToTheEngineVersion holds the goldens against the digest that
// testdata/goldens.txt has for this engine's version. Where it fails, raise
// analysis.EngineVersion and add a line; lines of versions that were released stay.
func TestGoldensBelongToTheEngineVersion(t *testing.T) {
	digest := sha256.New()
	for _, folder := range goldenFolders {
		names, err := filepath.Glob(folder)
		if err != nil || len(names) == 0 {
			t.Fatalf("%s: %d goldens, %v", folder, len(names), err)
		}
		slices.Sort(names)
		for _, name := range names {
			info, err := os.Stat(name)
			if err != nil {
				t.Fatal(err)
			}
			if info.IsDir() { // seeds of fuzzing
				continue
			}
			content, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			digest.Write([]byte(filepath.Base(name) + "\x00"))
			digest.Write(content)
		}
	}
	line := analysis.EngineVersion + " " + hex.EncodeToString(digest.Sum(nil)[:16])
	recorded, err := os.ReadFile("../testdata/goldens.txt")
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Contains(strings.Split(string(recorded), "\n"), line) {
		t.Errorf("testdata/goldens.txt has no line %q: the goldens changed, so the engine's version must", line)
	}
}
