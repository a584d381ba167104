package browser_test

import (
	"os"
	"path/filepath"
	"testing"

	"parcours.example/internal/browsertest"
)

// example reads a file below testdata/examples.
func example(t testing.TB, name string) []byte {
	t.Helper()
	content, err := os.ReadFile(filepath.Join(root, "testdata/examples", name))
	if err != nil {
		t.Fatal(err)
	}
	return content
}

func TestReference(t *testing.T) {
	b := newTab(t)
	b.Open("/docs")
	b.WaitText("h1", "reference")
	parts := []string{"header", "nav", "main > section:nth-of-type(-n+2)", "main > table"} // it is very long, and the same all over
	if os.Getenv("PARCOURS_FULL") == "1" {
		parts = nil
	}
	b.CheckView("docs", browsertest.NarrowLight, parts...)
	b.CheckView("docs", browsertest.WideDark, parts...)
}

func TestProblemPage(t *testing.T) {
	b := newTab(t)
	b.Open("/problems/cannot-climb")
	b.WaitText("h2", "What to do")
	b.CheckAccessible("problem")
}
