package brief

import (
	"strings"
	"testing"
)

func TestPacedRides(t *testing.T) {
	in := hilltop()
	if text := Write(in).Text; strings.Contains(text, "Paced") {
		t.Errorf("no ride follows a plan:\n%s", text)
	}
	for gainS, want := range map[float64]string{
		0.4:   "which saves nothing against 252 W throughout.",
		0.6:   "0:01 faster than 252 W throughout.",
		61.2:  "1:01 faster than 252 W throughout.",
		3661.: "1:01:01 faster than 252 W throughout.",
	} {
		in.Rides[1].Pace = &Pace{ConstantPowerW: 251.8, GainS: gainS}
		b := Write(in)
		if !strings.Contains(b.Text, want) || strings.Count(b.Text, "Paced") != 1 {
			t.Errorf("want %q in\n%s", want, b.Text)
		}
		told := map[string]float64{}
		for _, f := range b.Facts {
			told[f.Name] = f.Value
		}
		if told["prediction-2.constant_power_w"] != 251.8 || gainS >= leastGainS && told["prediction-2.gain_s"] != gainS {
			t.Errorf("%v s: %v", gainS, told)
		}
	}
}
