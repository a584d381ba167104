package shelter_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/shelter"
)

const most = 200

func TestSharesAreAboveZeroAndAtMostOne(t *testing.T) {
	table := shelter.NewTable(most)
	within := func(what string, f float64, ahead, riders int) {
		if !(f > 0 && f <= 1) {
			t.Fatalf("%s: %v at %d of %d", what, f, ahead, riders)
		}
	}
	for riders := -1; riders <= most+2; riders++ {
		for ahead := -2; ahead <= riders+2; ahead++ {
			within("line", shelter.Line(ahead, riders), ahead, riders)
			within("bunch", shelter.Bunch(ahead, riders), ahead, riders)
			within("table", table.Factor(ahead, riders, 0.5, 0.7), ahead, riders)
		}
	}
}

func TestAloneThereIsNoShelter(t *testing.T) {
	for _, most := range []int{0, 1, 50} {
		table := shelter.NewTable(most)
		for riders := -1; riders <= 1; riders++ {
			for ahead := -1; ahead <= 2; ahead++ {
				if shelter.Line(ahead, riders) != 1 || shelter.Bunch(ahead, riders) != 1 || table.Factor(ahead, riders, 1, 0) != 1 {
					t.Errorf("%d ahead of %d aren't alone", ahead, riders)
				}
			}
		}
	}
}

func TestTwoRideAsALine(t *testing.T) {
	for ahead := range 2 {
		if shelter.Bunch(ahead, 2) != shelter.Line(ahead, 2) {
			t.Errorf("%d ahead: in a bunch of two it isn't the line", ahead)
		}
	}
}

// The table is the two functions at close riding, to rounding, and linear in the spread.
func TestTableIsLineAndBunch(t *testing.T) {
	table := shelter.NewTable(most)
	for riders := 1; riders <= most; riders++ {
		for ahead := range riders {
			line, bunch := shelter.Line(ahead, riders), shelter.Bunch(ahead, riders)
			near(t, "spread 0", table.Factor(ahead, riders, 0, 0), line, 1e-15)
			near(t, "spread 1", table.Factor(ahead, riders, 1, 0), bunch, 1e-15)
			near(t, "spread ¼", table.Factor(ahead, riders, 0.25, 0), 0.75*line+0.25*bunch, 1e-15)
			near(t, "gap", 1-table.Factor(ahead, riders, 0, 1.3), (1-line)*(1-shelter.Gap(1.3))/(1-shelter.Gap(0)), 1e-15)
		}
	}
}

func TestPlacesOutsideTheGroup(t *testing.T) {
	table := shelter.NewTable(most)
	for _, c := range []struct{ ahead, riders, sameAhead, sameRiders int }{
		{9, 5, 4, 5}, {-1, 5, 0, 5}, {250, 300, 199, 200}, {0, 300, 0, 200},
	} {
		if table.Factor(c.ahead, c.riders, 0.5, 1) != table.Factor(c.sameAhead, c.sameRiders, 0.5, 1) {
			t.Errorf("%+v", c)
		}
	}
	if shelter.Line(9, 5) != shelter.Line(4, 5) || shelter.Bunch(9, 5) != shelter.Bunch(4, 5) {
		t.Error("a place beyond the last isn't the last's")
	}
}

// With a wider gap nobody has more shelter, and nothing jumps.
func TestMonotoneAndContinuousInTheGap(t *testing.T) {
	table := shelter.NewTable(most)
	rapid.Check(t, func(t *rapid.T) {
		riders := rapid.IntRange(2, most).Draw(t, "riders")
		ahead := rapid.IntRange(0, riders-1).Draw(t, "ahead")
		spread := rapid.Float64Range(0, 1).Draw(t, "spread")
		gap := rapid.Float64Range(-0.5, 3.5).Draw(t, "gap")
		more := rapid.Float64Range(0, 0.01).Draw(t, "more")
		near, far := table.Factor(ahead, riders, spread, gap), table.Factor(ahead, riders, spread, gap+more)
		if far < near || far-near > 0.7*more+1e-15 {
			t.Fatalf("%v at %v m, %v at %v m", near, gap, far, gap+more)
		}
		if a, b := shelter.Gap(gap), shelter.Gap(gap+more); b < a || b-a > 0.7*more+1e-15 {
			t.Fatalf("%v at %v m, %v at %v m", a, gap, b, gap+more)
		}
	})
	for _, gap := range []float64{3, 3.001, 50, math.Inf(1)} {
		if shelter.Gap(gap) != 1 || table.Factor(50, 100, 1, gap) != 1 {
			t.Errorf("there is shelter at %v m", gap)
		}
	}
}

// The last of a group of more riders never has less shelter, and nobody in a line gains
// from fewer.
func TestMoreRidersNeverShelterLess(t *testing.T) {
	for riders := 1; riders < most; riders++ {
		if shelter.Line(riders, riders+1) > shelter.Line(riders-1, riders) {
			t.Errorf("last of a line of %d", riders+1)
		}
		if shelter.Bunch(riders, riders+1) > shelter.Bunch(riders-1, riders) {
			t.Errorf("last of a bunch of %d", riders+1)
		}
		for ahead := range riders {
			if shelter.Line(ahead, riders+1) > shelter.Line(ahead, riders) {
				t.Errorf("%d ahead in a line of %d", ahead, riders+1)
			}
		}
	}
}

// Behind the leader, whom only those behind help, no place differs much from the next one
// or from the same in a group of one more.
func TestNeighboursAreAlike(t *testing.T) {
	for riders := 3; riders <= most; riders++ {
		for ahead := 1; ahead < riders; ahead++ {
			line, bunch := shelter.Line(ahead, riders), shelter.Bunch(ahead, riders)
			near(t, "line of one more", shelter.Line(ahead, riders+1), line, 0.03)
			near(t, "bunch of one more", shelter.Bunch(ahead, riders+1), bunch, 0.03)
			if ahead+1 < riders {
				near(t, "next in a line", shelter.Line(ahead+1, riders), line, 0.08)
				near(t, "next in a bunch", shelter.Bunch(ahead+1, riders), bunch, 0.15)
			}
		}
	}
}

func TestGutterFallsWithYaw(t *testing.T) {
	if shelter.Gutter(0) != 1 {
		t.Error("a wind from ahead takes shelter away")
	}
	for _, yaw := range []float64{90, 100, -180, math.Inf(1)} {
		if shelter.Gutter(yaw) != 0 {
			t.Errorf("there is a lee straight behind at %v°", yaw)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		yaw := rapid.Float64Range(0, 90).Draw(t, "yaw")
		more := rapid.Float64Range(0, 0.1).Draw(t, "more")
		a, b := shelter.Gutter(yaw), shelter.Gutter(yaw+more)
		if b > a || a-b > 0.06*more+1e-15 || a < 0 || a > 1 || a != shelter.Gutter(-yaw) {
			t.Fatalf("%v at %v°, %v at %v°", a, yaw, b, yaw+more)
		}
	})
}

func TestEchelonHasRoomForSomeAcrossTheRoad(t *testing.T) {
	gutter := shelter.Gutter(20)
	for ahead, want := range []float64{1, 1, 1, 1, 0.5 + 0.5*gutter, gutter, gutter} {
		near(t, "share", shelter.Echelon(ahead, 4.5, gutter), want, 1e-15)
	}
	for ahead := range 10 {
		if blown(ahead, 10, 4, shelter.Gutter(0)) != shelter.Line(ahead, 10) {
			t.Errorf("%d ahead: at no yaw it isn't the line", ahead)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		ahead, riders := rapid.IntRange(0, 30).Draw(t, "ahead"), rapid.IntRange(1, 30).Draw(t, "riders")
		abreast := rapid.Float64Range(0, 30).Draw(t, "abreast")
		yaw := rapid.Float64Range(-180, 180).Draw(t, "yaw")
		f, roomier := blown(ahead, riders, abreast, shelter.Gutter(yaw)), blown(ahead, riders, abreast+0.5, shelter.Gutter(yaw))
		if f < shelter.Line(ahead, riders)-1e-15 || f > 1 || roomier > f+1e-15 {
			t.Fatalf("%v, with more room %v", f, roomier)
		}
	})
}

func BenchmarkFactor(b *testing.B) {
	table := shelter.NewTable(most)
	b.ReportAllocs()
	sum, i := 0.0, 0
	for b.Loop() {
		i = (i + 7) & 127
		sum += table.Factor(i, 128, 0.7, 0.2+float64(i)*0.01)
	}
	if sum == 0 {
		b.Fatal("no drag")
	}
}

func BenchmarkNewTable(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		shelter.NewTable(most)
	}
}

func BenchmarkGutter(b *testing.B) {
	for b.Loop() {
		shelter.Gutter(12)
	}
}
