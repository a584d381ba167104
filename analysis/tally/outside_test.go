package tally

import "testing"

// Time gaps in road races: a split is more than 1 s between one rider and the next (UCI
// protocol of time gaps, which gives 17 m at 60 km/h for it; 16.67 m computed).
func TestGroupsAreThoseOfTheTimingProtocol(t *testing.T) {
	const mps = 60 / 3.6
	for _, c := range []struct {
		apartM float64
		groups int
	}{{16.6, 1}, {17, 2}} {
		o := newOrder(3)
		o.sort([]float64{3600, 3600 + c.apartM/mps, 3600 + 2*c.apartM/mps})
		front, groups := o.groups()
		if want := 1 + 2*(c.groups-1); groups != want || front != 3/groups {
			t.Errorf("%v m from wheel to wheel: %d groups, %d in the first", c.apartM, groups, front)
		}
	}
}
