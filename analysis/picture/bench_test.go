package picture

import "testing"

func BenchmarkSVGOfALongRace(b *testing.B) {
	c, dissected := longRace(b)
	b.ReportAllocs()
	for b.Loop() {
		d, err := Draw(Input{Course: c, Terrain: dissected, Focus: OfCourse, WidthPx: MostWidthPx})
		if err != nil {
			b.Fatal(err)
		}
		b.SetBytes(int64(len(d.SVG())))
	}
}

func BenchmarkPNGOfALongRace(b *testing.B) {
	c, dissected := longRace(b)
	b.ReportAllocs()
	for b.Loop() {
		d, err := Draw(Input{Course: c, Terrain: dissected, Focus: OfCourse, WidthPx: MostWidthPx})
		if err != nil {
			b.Fatal(err)
		}
		if _, err := d.PNG(b.Context()); err != nil {
			b.Fatal(err)
		}
	}
}

// The rides are made beforehand: what is measured is what drawing takes beyond them.
func BenchmarkSVGOfALongRide(b *testing.B) {
	c, dissected := longRace(b)
	rides := fourRides(b, c)
	rides.All = rides.All[:2]
	b.ReportAllocs()
	for b.Loop() {
		d, err := Draw(Input{Course: c, Terrain: dissected, Focus: OfRides, WidthPx: MostWidthPx, Rides: rides})
		if err != nil {
			b.Fatal(err)
		}
		b.SetBytes(int64(len(d.SVG())))
	}
}

func BenchmarkSVGOfAMap(b *testing.B) {
	c, dissected := season(b, "ludwether-mountain-stage")
	b.ReportAllocs()
	for b.Loop() {
		d, err := Draw(Input{Course: c, Terrain: dissected, Focus: OfMap, WidthPx: MostWidthPx})
		if err != nil {
			b.Fatal(err)
		}
		b.SetBytes(int64(len(d.SVG())))
	}
}
