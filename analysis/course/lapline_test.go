package course

import (
	"context"
	"math"
	"strings"
	"testing"

	"parcours.example/analysis/track"
)

func TestLapLine(t *testing.T) {
	eight := start().arc(0, 400, 360).arc(0, -400, -360)
	for _, tt := range []struct {
		name  string
		line  sketch
		gate  [2]float64
		laps  int // declared
		lines []float64
		warn  string
	}{
		{"elsewhere on the circuit", start().rectangle(1000, 400, 4), [2]float64{1004, 200}, 0, []float64{1200, 4000, 6800, 9600}, ""},
		{"where the line is", start().rectangle(1000, 400, 4), [2]float64{2, 2}, 0, []float64{0, 2800, 5600, 8400, 11200}, ""},
		{"passed twice a lap", append(append(eight, eight[1:]...), eight[1:]...), [2]float64{0, 3}, 0, []float64{0, 5026.5, 10053.1, 15079.6}, ""},
		{"on a road of both circuits", start().rectangle(600, 300, 3).rectangle(600, -500, 4), [2]float64{300, 0}, 0, []float64{5700, 7900, 10100, 12300}, ""},
		{"on the lead-in", start().to(900, 0).to(900, 500).rectangle(800, 300, 3), [2]float64{400, 0}, 0, []float64{1400, 3600, 5800, 8000}, "lap-line-off-circuit"},
		{"beside the circuit", start().rectangle(1000, 400, 4), [2]float64{500, -150}, 0, []float64{0, 2800, 5600, 8400, 11200}, "lap-line-off-circuit"},
		{"no laps", start().to(5000, 3000), [2]float64{50, 30}, 0, nil, "lap-line-unused"},
		{"declared laps", start().rectangle(1000, 400, 1), [2]float64{1000, 200}, 2, []float64{0, 2800, 5600}, "lap-line-unused"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			opt := Defaults()
			opt.Smoothing, opt.LapLine, opt.Laps = None, "bridge", tt.laps
			opt.Marks = []track.Mark{{Name: "bridge", Kind: track.Gate, Pos: sketch{tt.gate}.points(47, 11, 0)[0].Pos}}
			c, err := FromTrack(context.Background(), &track.Track{Points: tt.line.points(47, 11, 0)}, opt)
			if err != nil {
				t.Fatal(err)
			}
			got := c.lapLines()
			if len(got) != len(tt.lines) {
				t.Fatalf("lines %.0f, want %.0f", got, tt.lines)
			}
			for k := range got {
				if math.Abs(got[k]-tt.lines[k]) > 3 {
					t.Fatalf("lines %.0f, want %.0f", got, tt.lines)
				}
			}
			checkParts(t, c)
			warned := ""
			for _, w := range c.Quality.Warnings {
				if strings.HasPrefix(w.Code, "lap-line") {
					warned += w.Code
				}
			}
			if warned != tt.warn {
				t.Errorf("warnings %q, want %q", warned, tt.warn)
			}
		})
	}
}

func TestLapLineOfNoMark(t *testing.T) {
	opt := Defaults()
	opt.LapLine = "bridge"
	c, err := FromTrack(context.Background(), &track.Track{Points: start().rectangle(1000, 400, 4).points(47, 11, 0)}, opt)
	if err != nil {
		t.Fatal(err)
	}
	if w := c.Quality.Warnings; w[len(w)-1].Code != "lap-line-unknown" {
		t.Errorf("warnings %+v", w)
	}
}

func TestEveryLap(t *testing.T) {
	for _, tt := range []struct {
		at   []float64
		lapM float64
		want []float64
	}{
		{nil, 1000, nil},
		{[]float64{100}, 1000, []float64{100}},
		{[]float64{100, 300, 1110, 1290, 2300}, 1000, []float64{300, 1290, 2300}},
		{[]float64{100, 1090, 3200, 4200, 5200}, 1000, []float64{3200, 4200, 5200}},
		{[]float64{100, 1300}, 1000, []float64{100}},
	} {
		if got := everyLap(tt.at, tt.lapM); len(got) != len(tt.want) || len(got) > 0 && got[0] != tt.want[0] {
			t.Errorf("every %v m of %v: %v, want %v", tt.lapM, tt.at, got, tt.want)
		}
	}
}
