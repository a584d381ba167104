package aid

import (
	"math"
	"testing"

	"parcours.example/analysis/ride"
)

// atLine uses an aid just up to a line.
func atLine(t *testing.T, s *Scene, a Aid, lineM float64) Sprint {
	t.Helper()
	sprint, ok, err := AtLine(t.Context(), s, &a, lineM)
	if err != nil || !ok {
		t.Fatal(ok, err)
	}
	return sprint
}

// A use up to a line lasts just to it, and is worth there what a full ride says.
func TestAtLineLastsJustToIt(t *testing.T) {
	for _, lineM := range []float64{3_990, 6_990, 9_990, 12_000} {
		for _, a := range []Aid{dragAid(), massAid()} {
			r := road(t, 12_000, hilly)
			s := scene(t, r, 250, ride.Span{StartM: lineM, EndM: lineM})
			got := atLine(t, s, a, lineM)
			s.LineM = lineM
			u := at(t, s, a, got.UseM)
			near(t, "the gain", got.GainS, u.GainS, 1e-6)
			clockS := u.ClockS + a.DurationS
			near(t, "the end", clockS, s.Ride.Splits[0].ClockS-u.GainS, 2*justS)
			shorter := a
			shorter.DurationS--
			if v := at(t, s, shorter, got.UseM); math.Abs(v.GainS) >= math.Abs(u.GainS) {
				t.Errorf("a second less gains %v s, not %v s", v.GainS, u.GainS)
			}
		}
	}
}

// An aid that comes late is used where it is first had; one that comes after the line not
// at all.
func TestAtLineFromThePassOn(t *testing.T) {
	s := scene(t, road(t, 12_000, hilly), 250)
	a := dragAid()
	a.EarnedM = []float64{11_950}
	if got := atLine(t, s, a, 12_000); got.UseM != 11_950 || !(got.GainS > 0) {
		t.Errorf("%+v", got)
	}
	a.EarnedM = []float64{12_000}
	if _, ok, err := AtLine(t.Context(), s, &a, 12_000); ok || err != nil {
		t.Error(ok, err)
	}
}

// The sooner the use, the more time it has gained at the line: its end just there is for
// the speed.
func TestSpeedIsForTheLine(t *testing.T) {
	s := scene(t, road(t, 8_000, level), 300)
	just, early := atLine(t, s, dragAid(), 8_000), at(t, s, dragAid(), 4_000)
	if !(early.GainS > just.GainS && just.FasterMps > 0.3) {
		t.Errorf("%+v against %+v", just, early)
	}
}
