package course

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"parcours.example/analysis/track"
)

// A barometer's drift shows where ground is ridden again, in either direction, and
// nowhere else.
func TestDriftIsTold(t *testing.T) {
	circuit := func(s float64) (x, y float64) { return 500 * math.Sin(s/500), 500 * math.Cos(s/500) }
	there := func(s float64) (x, y float64) { return 5000 - math.Abs(s-5000), 0 }
	onwards := func(s float64) (x, y float64) { return s, 0 }
	for name, tt := range map[string]struct {
		line  func(s float64) (x, y float64)
		drift float64 // in metres per metre
		said  string  // what the warning must hold; "" for none
	}{
		"laps without drift":           {circuit, 0, ""},
		"laps, a metre a kilometre up": {circuit, 0.001, "drift of +"},
		"laps, a metre down":           {circuit, -0.001, "drift of -"},
		"there and back without drift": {there, 0, ""},
		"there and back with drift":    {there, 0.001, "drift of +"},
		"onwards":                      {onwards, 0.001, ""},
	} {
		r := rand.New(rand.NewPCG(3, 3))
		tr := &track.Track{}
		for s := 0.0; s <= 10000; s += 8 {
			x, y := tt.line(s)
			tr.Points = append(tr.Points, plane(x+r.NormFloat64(), y+r.NormFloat64(), 300+20*math.Sin(x/300)+10*math.Cos(y/200)+tt.drift*s+0.2*r.NormFloat64()))
		}
		said := ""
		for _, w := range mustTrack(t, tr, Defaults()).Quality.Warnings {
			if w.Code == "elevation-drift" {
				said = w.Detail
			}
		}
		t.Log(name, said)
		if (said == "") != (tt.said == "") || !strings.Contains(said, tt.said) {
			t.Errorf("%s: %q, want %q", name, said, tt.said)
		}
	}
}
