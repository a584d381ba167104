// Package golden holds texts against files that people have read. Tests alone use it.
package golden

import (
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// Check holds a text against the file of a name in the package's testdata; with
// -update it writes the file first.
func Check(t testing.TB, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil { //nolint:gosec // a source file like any other
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path) //nolint:gosec // named by the test
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s differs from what is written (-want +got):\n%s", name, diff)
	}
}
