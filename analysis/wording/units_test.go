package wording

import "testing"

func TestUnits(t *testing.T) {
	metric, imperial := Units{}, Units{Imperial: true}
	for _, c := range []struct{ got, want string }{
		{metric.Length(4), "4 m"},
		{metric.Length(994), "990 m"},
		{metric.Length(995), "1.0 km"},
		{metric.Length(42_195), "42.2 km"},
		{imperial.Length(100), "330 ft"},
		{imperial.Length(800), "0.50 miles"},
		{imperial.Length(42_195), "26.2 miles"},
		{metric.Bare(12_340), "12.3"},
		{imperial.Bare(1609.344), "1.0"},
		{metric.Long(), "km"},
		{imperial.Long(), "miles"},
		{metric.Height(498.4), "498 m"},
		{imperial.Height(100), "328 ft"},
		{metric.Short(), "m"},
		{imperial.Short(), "ft"},
		{metric.Speed(10), "36.0 km/h"},
		{imperial.Speed(10), "22.4 mph"},
		{metric.Mass(72.4), "72 kg"},
		{imperial.Mass(72.4), "160 lb"},
		{metric.Radius(13), "15 m"},
		{metric.Radius(1), "5 m"},
		{imperial.Radius(13), "40 ft"},
		{metric.Fine(0.26), "0.3 m"},
		{imperial.Fine(0.26), "0.9 ft"},
		{metric.Drink(0.75), "0.8 l"},
		{imperial.Drink(0.75), "25 fl oz"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
	if metric.LongM() != 1000 || imperial.ShortM() != 0.3048 {
		t.Error("a unit has another length")
	}
}
