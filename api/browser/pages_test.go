package browser_test

import (
	"os"
	"path/filepath"
	"testing"
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
	b.open("/docs")
	b.waitText("h1", "reference")
	parts := []string{"header", "nav", "main > section:nth-of-type(-n+2)", "main > table"} // it is very long, and the same all over
	if os.Getenv("PARCOURS_FULL") == "1" {
		parts = nil
	}
	b.checkView("docs", narrowLight, parts...)
	b.checkView("docs", wideDark, parts...)
}

func TestProblemPage(t *testing.T) {
	b := newTab(t)
	b.open("/problems/cannot-climb")
	b.waitText("h2", "What to do")
	b.checkAccessible("problem")
}
