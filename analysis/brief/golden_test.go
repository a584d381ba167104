package brief

import (
	"testing"

	"parcours.example/internal/golden"
)

// TestGolden holds whole briefs as they read.
func TestGolden(t *testing.T) {
	for name, in := range fixtures() {
		t.Run(name, func(t *testing.T) {
			b := Write(in)
			golden.Check(t, name+".md", b.Markdown)
			in.MaxChars = 500
			golden.Check(t, name+"_500.txt", Write(in).Text)
		})
	}
}
