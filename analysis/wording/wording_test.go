package wording_test

import (
	"testing"

	"parcours.example/analysis/wording"
)

func TestNumbersAsPeopleReadThem(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{wording.Rounded(-0.004, 2), "0.00"},
		{wording.Rounded(2.5, 0), "3"},
		{wording.Rounded(0.15-1e-12, 1), "0.2"},
		{wording.Number(4, 2), "4"},
		{wording.Number(2.50, 2), "2.5"},
		{wording.Number(100, 0), "100"},
		{wording.Number(-0.001, 2), "0"},
		{wording.Metres(3), "10 m"},
		{wording.Metres(994), "990 m"},
		{wording.Metres(995), "1.0 km"},
		{wording.Position(12_344), "12.34 km"},
		{wording.SpeedChange(-0.589), "2.1 km/h"},
		{wording.Kilojoules(15040), "15.0 kJ"},
		{wording.Speed(11.2), "40 km/h"},
		{wording.Seconds(-3.14), "3.1 s"},
		{wording.Seconds(9.95), "10 s"},
		{wording.Seconds(59.5), "1:00"},
		{wording.Hundredths(-0.126), "0.13 s"},
		{wording.ShortLength(-1.06), "1.1 m"},
		{wording.Clock(3599.6), "1:00:00"},
		{wording.Clock(61), "1:01"},
		{wording.Watts(249.5), "250 W"},
		{wording.Kilograms(6.84), "6.8 kg"},
		{wording.Percent(0.336), "34 %"},
		{wording.Gradient(6.25), "6.3 %"},
		{wording.Gradient(-0.96), "−1.0 %"},
		{wording.Gradient(-0.04), "0.0 %"},
		{wording.Chance(0.994), "99 %"},
		{wording.Chance(0.0049), "under 1 %"},
		{wording.Chance(0.996), "over 99 %"},
		{wording.Chance(0), "0 %"},
		{wording.Count(9999), "9999"},
		{wording.Count(1234567), "1,234,567"},
		{wording.Slope(-3.5), "4 %"},
		{wording.Certainty(95), "95 %"},
		{wording.Certainty(97.5), "97.5 %"},
		{wording.Kilocalories(1444.9), "1440 kcal"},
		{wording.Grams(62.6), "65 g"},
		{wording.Small(0), "no"},
		{wording.Small(10), "ten"},
		{wording.Small(12_000), "12,000"},
		{wording.List(), ""},
		{wording.List("Nour"), "Nour"},
		{wording.List("Nour", "Bram", "Isa"), "Nour, Bram and Isa"},
		{wording.WattsPerKilogram(4.198), "4.20 W/kg"},
	} {
		if c.got != c.want {
			t.Errorf("%q, not %q", c.got, c.want)
		}
	}
}
