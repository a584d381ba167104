package routes_test

import (
	"io/fs"
	"slices"
	"testing"
	"testing/fstest"

	"pgregory.net/rapid"

	"parcours.example/client/routes"
)

func TestBelow(t *testing.T) {
	folder := fstest.MapFS{}
	want := []string{"2/week-2.fit", "10/a.tcx", "Week-1.csv", "week-9.GPX", "week-10.gpx.gz", "week-010.gpx", "week-10b.kml"}
	for _, name := range append([]string{".hidden.gpx", ".git/x.gpx", "README.md", "week-3.json", "a.gpx/inner.geojson"}, want...) {
		folder[name] = &fstest.MapFile{}
	}
	want = []string{"2/week-2.fit", "10/a.tcx", "a.gpx/inner.geojson", "Week-1.csv", "week-9.GPX", "week-010.gpx", "week-10.gpx.gz", "week-10b.kml"}
	got, err := routes.Below(folder)
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("%q, %v", got, err)
	}
}

type noFolder struct{}

func (noFolder) Open(string) (fs.File, error) { return nil, fs.ErrPermission }

func TestBelowTellsWhatItCannotRead(t *testing.T) {
	if _, err := routes.Below(fstest.MapFS{}); err != nil {
		t.Errorf("an empty folder: %v", err)
	}
	if _, err := routes.Below(noFolder{}); err == nil {
		t.Error("no error")
	}
}

// The order is one: antisymmetric and transitive, and equal for equal names alone.
func TestCompareIsAnOrder(t *testing.T) {
	name := rapid.StringMatching(`[aA.\-0-9é]{0,8}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := name.Draw(t, "a"), name.Draw(t, "b"), name.Draw(t, "c")
		if routes.Compare(a, b) != -routes.Compare(b, a) {
			t.Errorf("%q and %q", a, b)
		}
		if (routes.Compare(a, b) == 0) != (a == b) {
			t.Errorf("%q is equal to %q", a, b)
		}
		if routes.Compare(a, b) <= 0 && routes.Compare(b, c) <= 0 && routes.Compare(a, c) > 0 {
			t.Errorf("%q, %q, %q", a, b, c)
		}
	})
}
