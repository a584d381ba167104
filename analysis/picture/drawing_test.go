package picture

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/png"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/colour"
)

// blank is a white paper.
func blank(tb testing.TB, width, height int) *Drawing {
	tb.Helper()
	face, err := newTypeface()
	if err != nil {
		tb.Fatal(err)
	}
	return &Drawing{WidthPx: width, HeightPx: height, paper: colour.RGB{R: 255, G: 255, B: 255}, face: face}
}

// pixels writes a drawing as PNG and reads it again.
func pixels(tb testing.TB, d *Drawing) image.Image {
	tb.Helper()
	written, err := d.PNG(tb.Context())
	if err != nil {
		tb.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(written))
	if err != nil {
		tb.Fatal(err)
	}
	return img
}

// darkness is 0 for a white pixel, 1 for a black one.
func darkness(c interface{ RGBA() (r, g, b, a uint32) }) float64 {
	r, _, _, _ := c.RGBA()
	return 1 - float64(r)/0xffff
}

// A large area has no seams where it is filled piece by piece, and ends where it should.
func TestAreasCoverTheirGround(t *testing.T) {
	d := blank(t, 1400, 1100)
	d.fillBox(colour.RGB{}, box{10, 20, 1300.5, 1050})
	img := pixels(t, d)
	for y := range 1100 {
		for x := range 1400 {
			want := 0.0
			if y >= 20 && y < 1050 && x >= 10 && x < 1300 {
				want = 1
			} else if y >= 20 && y < 1050 && x == 1300 {
				want = 0.5
			}
			if got := darkness(img.At(x, y)); math.Abs(got-want) > 0.01 {
				t.Fatalf("the pixel at %d, %d is %.2f dark, want %.2f", x, y, got, want)
			}
		}
	}
}

// A line covers its length times its width, whichever way it goes, also where it bends.
func TestLinesAreAsWideAsTheyShouldBe(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.Float64Range(1, 5).Draw(t, "width")
		turn := rapid.Float64Range(-1.4, 1.4).Draw(t, "turn")
		at := rapid.Float64Range(0, 6.28).Draw(t, "direction")
		a := point{60, 60}
		b := point{a.x + 25*math.Cos(at), a.y + 25*math.Sin(at)}
		c := point{b.x + 25*math.Cos(at+turn), b.y + 25*math.Sin(at+turn)}
		line := []point{a.tenths(), b.tenths(), c.tenths()}
		img := image.NewRGBA(image.Rect(0, 0, 120, 120))
		canvas := canvas{image: img}
		canvas.fill(colour.RGB{R: 255}, outlines(stroke{lines: [][]point{line}, width: width}))
		covered := 0.0
		for i := 0; i < len(img.Pix); i += 4 {
			covered += float64(img.Pix[i]) / 255
		}
		if want := 50 * width; math.Abs(covered-want) > 0.03*want+1 {
			t.Errorf("the line covers %.1f px², want %.1f", covered, want)
		}
	})
}

// A picture that nobody waits for is not finished.
func TestPNGStopsWithItsContext(t *testing.T) {
	d := blank(t, 300, 300)
	gone, leave := context.WithCancel(t.Context())
	leave()
	for range 2 { // without and with an element
		if _, err := d.PNG(gone); !errors.Is(err, context.Canceled) {
			t.Errorf("%v, want the context's error", err)
		}
		d.fillBox(colour.RGB{}, box{0, 0, 9, 9})
	}
}

func TestStripOfNothing(t *testing.T) {
	for _, line := range [][]point{nil, {{1, 2}}, {{1, 2}, {1, 2}}} {
		if ring := strip(line, 2); ring != nil {
			t.Errorf("%v has the outline %v", line, ring)
		}
	}
}

// What a text takes up is what is measured for it.
func TestLettersStayInTheirBox(t *testing.T) {
	d := blank(t, 400, 60)
	room := d.write(colour.RGB{}, 20, atMiddle, point{200, 40}, "Ågård & Żółć, 12.5 km").grown(1, 1)
	img := pixels(t, d)
	inked := 0
	for y := range 60 {
		for x := range 400 {
			if darkness(img.At(x, y)) < 0.1 {
				continue
			}
			inked++
			if !(box{float64(x), float64(y), float64(x), float64(y)}).within(room) {
				t.Fatalf("ink at %d, %d outside %v", x, y, room)
			}
		}
	}
	if inked < 300 {
		t.Errorf("only %d pixels have ink", inked)
	}
}

func TestPathsInTenths(t *testing.T) {
	var w svgWriter
	w.paths([][]point{{{0, 10.5}, {0.3, 9}, {-12, 9}, {-12, 109.9}}}, "z")
	if got, want := w.String(), "M0 10.5l.3-1.5-12.3 0 0 100.9z"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// A line loses no more than straightenPx, and keeps its ends.
func TestStraightenedStaysClose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "points")
		line := make([]point, n)
		for i := range line {
			line[i] = point{float64(i), rapid.Float64Range(-2, 2).Draw(t, "y")}
		}
		kept := straightened(line)
		if kept[0] != line[0] || kept[len(kept)-1] != line[n-1] {
			t.Fatalf("the ends of %v are %v", line, kept)
		}
		for _, p := range line {
			near := math.Inf(1)
			for i := range kept {
				near = min(near, fromChord(p, kept[max(i-1, 0)], kept[i]))
			}
			if near > straightenPx+1e-9 {
				t.Errorf("%v lies %.2f px off", p, near)
			}
		}
	})
}

func TestFittedShowsThatItIsCut(t *testing.T) {
	face := blank(t, 1, 1).face
	for _, c := range []struct {
		words string
		room  float64
		want  string
	}{{"Ottermere", 200, "Ottermere"}, {"Ottermere and back", 80, "Ottermere…"}, {"Ottermere", 3, ""}} {
		if got := face.fitted(c.words, 14, c.room); got != c.want {
			t.Errorf("%q in %v px is %q, want %q", c.words, c.room, got, c.want)
		}
	}
}

func TestPlainNames(t *testing.T) {
	for in, want := range map[string]string{" Mill\n\t lane ": "Mill lane", "a\u202eb\u0000c": "ab c", "\xffx": "x", "Żółć <b>": "Żółć <b>"} {
		if got := plain(in); got != want {
			t.Errorf("%q is %q, want %q", in, got, want)
		}
	}
}

func TestScaleStepIsTheLeastRoundOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		least := rapid.Float64Range(0.01, 1e6).Draw(t, "least")
		step, decimals := scaleStep(least)
		digits := strings.Trim(decimal(step*1000), "0.")
		if step < least || step > 2.5*least+1e-9 && step > 0.01 || !strings.Contains("125", digits) || decimals < 0 || decimals > 2 {
			t.Errorf("%v gives %v with %d decimals", least, step, decimals)
		}
	})
}
