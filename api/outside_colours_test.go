package api_test

import (
	"fmt"
	"os"
	"regexp"
	"strconv"
	"testing"

	"parcours.example/analysis/colour"
)

// Every pair of colours that the pages set on each other keeps to WCAG 2.2: texts 4.5:1
// (success criterion 1.4.3), the edges of controls and what marks a caution 3:1 (1.4.11).
// Source: W3C Recommendation "Web Content Accessibility Guidelines (WCAG) 2.2", 2023.
func TestColoursOfPagesContrast(t *testing.T) {
	const texts, edges = 4.5, 3.0
	for file, pairs := range map[string][]struct {
		front, back string
		least       float64
	}{
		"page/page.css": {
			{"ink", "ground", texts},
			{"ink", "raised", texts},
			{"ink", "paper", texts},
			{"soft", "ground", texts},
			{"soft", "raised", texts},
			{"soft", "paper", texts},
			{"accent", "ground", texts},
			{"accent", "raised", texts},
			{"accent", "paper", texts},
			{"alarm", "ground", texts},
			{"alarm", "raised", texts},
			{"alarm", "paper", texts},
			{"on-accent", "accent", texts},
			{"line", "ground", edges},
			{"line", "raised", edges},
			{"line", "paper", edges},
			{"warn", "ground", edges},
		},
		"pages/style.css": {
			{"ink", "ground", texts},
			{"ink", "raised", texts},
			{"soft", "ground", texts},
			{"soft", "raised", texts},
			{"accent", "ground", texts},
			{"accent", "raised", texts},
		},
	} {
		colours := coloursOf(t, file)
		used := map[string]bool{"hair": true} // lines that only adorn
		for _, p := range pairs {
			used[p.front], used[p.back] = true, true
			for look := range 2 {
				if got := colour.Contrast(colours[p.front][look], colours[p.back][look]); got < p.least {
					t.Errorf("%s: %s on %s has a contrast of %.2f in look %d, at least %v", file, p.front, p.back, got, look, p.least)
				}
			}
		}
		for name := range colours {
			if !used[name] && (file != "pages/style.css" || name != "line") { // there lines only adorn
				t.Errorf("%s: --%s is in no pair", file, name)
			}
		}
	}
}

// coloursOf reads the colours of a style, light and dark.
func coloursOf(t *testing.T, file string) map[string][2]colour.RGB {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	colours := map[string][2]colour.RGB{}
	for _, m := range regexp.MustCompile(`--([a-z-]+): light-dark\(#([0-9a-f]{6}), #([0-9a-f]{6})\);`).FindAllStringSubmatch(string(text), -1) {
		colours[m[1]] = [2]colour.RGB{sixDigits(t, m[2]), sixDigits(t, m[3])}
	}
	for _, m := range regexp.MustCompile(`var\(--([a-z-]+)`).FindAllStringSubmatch(string(text), -1) {
		if _, ok := colours[m[1]]; !ok {
			t.Errorf("%s uses --%s, which it doesn't give for both looks", file, m[1])
		}
	}
	return colours
}

func sixDigits(t *testing.T, text string) colour.RGB {
	t.Helper()
	n, err := strconv.ParseUint(text, 16, 32)
	if err != nil {
		t.Fatal(fmt.Errorf("#%s: %w", text, err))
	}
	return colour.RGB{R: uint8(n >> 16), G: uint8(n >> 8), B: uint8(n)}
}
