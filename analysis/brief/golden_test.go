package brief

import (
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the golden files")

// TestGolden holds whole briefs as they read.
func TestGolden(t *testing.T) {
	for name, in := range fixtures() {
		t.Run(name, func(t *testing.T) {
			b := Write(in)
			golden(t, name+".md", b.Markdown)
			in.MaxChars = 500
			golden(t, name+"_500.txt", Write(in).Text)
		})
	}
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s differs from what is written (-want +got):\n%s", name, diff)
	}
}
