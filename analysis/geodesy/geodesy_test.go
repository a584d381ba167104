package geodesy_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/geodesy"
)

func TestDegreesInvertsFromDegrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat := rapid.Float64Range(-90, 90).Draw(t, "lat")
		lon := rapid.Float64Range(-180, 180).Draw(t, "lon")
		gotLat, gotLon := geodesy.FromDegrees(lat, lon).Degrees()
		// A degree of longitude shrinks with the parallel, so that near a pole only
		// the distance on the ground can come back.
		dLon := math.Remainder(gotLon-lon, 360) * math.Cos(lat*math.Pi/180)
		if math.Abs(gotLat-lat) > 1e-12 || math.Abs(dLon) > 1e-12 {
			t.Fatalf("(%v, %v) came back as (%v, %v)", lat, lon, gotLat, gotLon)
		}
	})
}

func TestDegreesOffTheSurface(t *testing.T) {
	for _, h := range []float64{-20, 100, 4000} {
		for _, lat := range []float64{-80, -45, 0, 30, 45, 60, 90} {
			v := geodesy.FromDegrees(lat, 7)
			sinLat, cosLat := math.Sincos(lat * math.Pi / 180)
			sinLon, cosLon := math.Sincos(7 * math.Pi / 180)
			up := geodesy.Vec{X: cosLat * cosLon, Y: cosLat * sinLon, Z: sinLat}
			got, _ := v.Add(up.Scale(h)).Degrees()
			if math.Abs(got-lat) > 3.1e-8*math.Abs(h)+1e-12 {
				t.Errorf("latitude %v at height %v: got %v", lat, h, got)
			}
		}
	}
}

func TestDegreesAtTheEdges(t *testing.T) {
	for _, c := range []struct {
		v        geodesy.Vec
		lat, lon float64
	}{
		{geodesy.Vec{}, 0, 0},
		{geodesy.Vec{Z: 6356752}, 90, 0},
		{geodesy.Vec{Z: -6356752}, -90, 0},
		{geodesy.Vec{X: -6378137}, 0, 180},
	} {
		if lat, lon := c.v.Degrees(); lat != c.lat || lon != c.lon {
			t.Errorf("%v: got (%v, %v), want (%v, %v)", c.v, lat, lon, c.lat, c.lon)
		}
	}
}

func TestDistanceIsAMetric(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		point := func(name string) geodesy.Vec {
			return geodesy.FromDegrees(rapid.Float64Range(-90, 90).Draw(t, name+" lat"), rapid.Float64Range(-180, 180).Draw(t, name+" lon"))
		}
		a, b, c := point("a"), point("b"), point("c")
		ab, ba := geodesy.Distance(a, b), geodesy.Distance(b, a)
		if geodesy.Distance(a, a) != 0 {
			t.Fatalf("a point is %v m from itself", geodesy.Distance(a, a))
		}
		if math.Abs(ab-ba) > 1e-9*ab+1e-6 {
			t.Fatalf("%v m there, %v m back", ab, ba)
		}
		if ab < geodesy.Chord(a, b)*(1-1e-12) || ab > 20003931.5 {
			t.Fatalf("%v m is shorter than the chord or longer than half a meridian", ab)
		}
		if via := geodesy.Distance(a, c) + geodesy.Distance(c, b); ab > via*(1+1e-9)+1e-6 {
			t.Fatalf("%v m straight, %v m by way of a third point", ab, via)
		}
	})
}

func TestDistanceHasNoStepAtTheChordLimit(t *testing.T) {
	for _, lat := range []float64{0, 45, 80} {
		a := geodesy.FromDegrees(lat, 10)
		for _, toNorth := range []bool{true, false} {
			at := func(m float64) geodesy.Vec {
				d := m / 111000
				if toNorth {
					return geodesy.FromDegrees(lat+d, 10)
				}
				return geodesy.FromDegrees(lat, 10+d/math.Cos(lat*math.Pi/180))
			}
			// The ratio to the chord is smooth across the limit.
			ratio := func(m float64) float64 { return geodesy.Distance(a, at(m)) / geodesy.Chord(a, at(m)) }
			if below, above := ratio(985), ratio(1025); math.Abs(above-below) > 3e-10 {
				t.Errorf("latitude %v, north %v: ratio %.12f below, %.12f above", lat, toNorth, below, above)
			}
		}
	}
}

func TestBearing(t *testing.T) {
	for _, c := range []struct {
		name                   string
		lat1, lon1, lat2, lon2 float64
		want                   float64
	}{
		{"north", 45, 7, 45.01, 7, 0},
		{"east", 0, 7, 0, 7.01, 90},
		{"south", -45, 7, -45.01, 7, 180},
		{"west", 0, 7, 0, 6.99, 270},
		{"east over the antimeridian", 0, 179.999, 0, -179.999, 90},
		{"the point itself", 45, 7, 45, 7, 0},
	} {
		got := geodesy.Bearing(geodesy.FromDegrees(c.lat1, c.lon1), geodesy.FromDegrees(c.lat2, c.lon2))
		if math.Abs(math.Remainder(got-c.want, 360)) > 1e-6 || got < 0 || got >= 360 {
			t.Errorf("%s: %v°, want %v°", c.name, got, c.want)
		}
	}
}

func TestBearingStaysBelow360(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat := rapid.Float64Range(-89, 89).Draw(t, "lat")
		west := rapid.Float64Range(0, 1e-12).Draw(t, "west")
		got := geodesy.Bearing(geodesy.FromDegrees(lat, 0), geodesy.FromDegrees(lat+0.01, -west))
		if got < 0 || got >= 360 {
			t.Fatalf("bearing %v", got)
		}
	})
}

func TestFrameIsOrthonormal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := geodesy.FromDegrees(rapid.Float64Range(-90, 90).Draw(t, "lat"), rapid.Float64Range(-180, 180).Draw(t, "lon"))
		f := geodesy.FrameAt(v)
		for name, got := range map[string]float64{
			"|east|": f.East.Norm() - 1, "|north|": f.North.Norm() - 1, "east·north": f.East.Dot(f.North),
			"east·v": f.East.Dot(v) / v.Norm(),
		} {
			if math.Abs(got) > 1e-12 {
				t.Fatalf("%s is off by %v", name, got)
			}
		}
	})
}

func TestLerp(t *testing.T) {
	a, b := geodesy.FromDegrees(45, 7), geodesy.FromDegrees(45.01, 7.01)
	if a.Lerp(b, 0) != a || geodesy.Chord(a.Lerp(b, 1), b) > 1e-8 {
		t.Error("the ends of the chord are not its ends")
	}
	m := a.Lerp(b, 0.5)
	if math.Abs(geodesy.Chord(a, m)-geodesy.Chord(m, b)) > 1e-8 {
		t.Error("the middle of the chord is not midway")
	}
}
