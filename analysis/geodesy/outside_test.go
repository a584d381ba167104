package geodesy_test

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/pymaxion/geographiclib-go/geodesic"

	"parcours.example/analysis/geodesy"
)

// relativeError is what a distance may be off per pair.
const relativeError = 1e-6

// TestDistanceGeodSolve holds distances against those of GeodSolve (GeographicLib
// 2.1.2, Debian geographiclib-tools 2.1.2, MIT), given by
//
//	GeodSolve -i -p 6
//
// on lines "lat1 lon1 lat2 lon2": the third number of its answers, in metres.
func TestDistanceGeodSolve(t *testing.T) {
	for _, c := range []struct{ lat1, lon1, lat2, lon2, want float64 }{
		{45.9237, 6.8694, 44.1740, 5.2788, 231315.518300},
		{45, 7, 45.00001, 7.00001, 1.362611},
		{45, 7, 45.009, 7.0, 1000.186788},
		{0, 0, 0, 0.5, 55659.745397},
		{-17.5, 179.9, -17.6, -179.95, 19393.642529},
		{89.9999, 10, 89.9998, -170, 33.508194},
		{90, 0, -90, 0, 20003931.458625},
		{0, 0, 0, 180, 20003931.458625},
		{0, 0, 0.5, 179.5, 19936288.578965},
		{0, 0, 0.5, 179.7, 19944127.420750},
		{-30, 0, 29.9, 179.8, 19989832.827610},
		{30, 10, -30, -170, 20003931.458625},
		{-89.99, 0, 89.99, 179, 20003911.965625},
		{51.5, -0.1, -41.3, 174.8, 18806579.380164},
		{60, 25, 60, 26, 55799.470393},
		{-67.75246, 41.42401, 67.75232, -138.57431, 20003915.584000},
		{65.357908, -78.598251, -65.357783, 101.401415, 20003917.511094},
		{-64.696675, 101.030766, 64.696575, -78.967467, 20003920.021881},
	} {
		got := geodesy.Distance(geodesy.FromDegrees(c.lat1, c.lon1), geodesy.FromDegrees(c.lat2, c.lon2))
		// The stored values are rounded to 1 µm.
		if math.Abs(got-c.want) > relativeError*c.want+5e-7 {
			t.Errorf("%v %v to %v %v: %.6f m, want %.6f m", c.lat1, c.lon1, c.lat2, c.lon2, got, c.want)
		}
	}
}

// TestDistanceKarney holds distances against Karney's algorithm as ported in
// geographiclib-go v1.1.0 (MIT) on seeded random pairs.
func TestDistanceKarney(t *testing.T) {
	pairs := 2000
	if os.Getenv("PARCOURS_FULL") != "" {
		pairs *= 20
	}
	r := rand.New(rand.NewPCG(1, 2))
	uniform := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	logUniform := func(lo, hi float64) float64 { return lo * math.Pow(hi/lo, r.Float64()) }
	latitude := func() float64 { return math.Asin(uniform(-1, 1)) * 180 / math.Pi }
	for _, form := range []struct {
		name string
		pair func() (lat1, lon1, lat2, lon2 float64)
	}{
		{"1 m to 20,000 km", func() (float64, float64, float64, float64) {
			lat, lon := latitude(), uniform(-180, 180)
			to := geodesic.WGS84.Direct(lat, lon, uniform(-180, 180), logUniform(1, 2e7))
			return lat, lon, to.Lat2, to.Lon2
		}},
		{"900 to 1,100 m, at the chord's limit", func() (float64, float64, float64, float64) {
			lat, lon := latitude(), uniform(-180, 180)
			to := geodesic.WGS84.Direct(lat, lon, uniform(-180, 180), uniform(900, 1100))
			return lat, lon, to.Lat2, to.Lon2
		}},
		{"across the antimeridian", func() (float64, float64, float64, float64) {
			return uniform(-85, 85), 180 - logUniform(1e-5, 10), uniform(-85, 85), logUniform(1e-5, 10) - 180
		}},
		{"about a pole", func() (float64, float64, float64, float64) {
			return 90 - logUniform(1e-4, 1), uniform(-180, 180), 90 - logUniform(1e-4, 1), uniform(-180, 180)
		}},
		{"along the equator", func() (float64, float64, float64, float64) {
			return 0, uniform(-180, 180), 0, uniform(-180, 180)
		}},
		{"along meridians", func() (float64, float64, float64, float64) {
			lon := uniform(-180, 180)
			return latitude(), lon, latitude(), lon + float64(180*r.IntN(2))
		}},
		{"nearly antipodal", func() (float64, float64, float64, float64) {
			lat, lon, off := latitude(), uniform(-180, 180), logUniform(1e-9, 2)
			return lat, lon, max(-90, min(90, -lat+off*uniform(-1, 1))), lon + 180 + off*uniform(-1, 1)
		}},
	} {
		t.Run(form.name, func(t *testing.T) {
			worst := 0.0
			for range pairs {
				lat1, lon1, lat2, lon2 := form.pair()
				want := geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2).S12
				got := geodesy.Distance(geodesy.FromDegrees(lat1, lon1), geodesy.FromDegrees(lat2, lon2))
				if want < 0.1 {
					continue // below what a position in degrees resolves to 10⁻⁶
				}
				off := math.Abs(got-want) / want
				worst = max(worst, off)
				if !(off <= relativeError) {
					t.Errorf("%v %v to %v %v: %.6f m, want %.6f m", lat1, lon1, lat2, lon2, got, want)
				}
			}
			t.Logf("%d pairs, worst relative error %.1e", pairs, worst)
		})
	}
}
