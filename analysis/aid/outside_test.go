package aid

import (
	"testing"

	"parcours.example/analysis/ride"
)

// Common practice, no source: less drag is for a fast flat or the metres before a line on it, less
// mass for a slow climb.
func TestDragOnTheFlatMassOnTheClimb(t *testing.T) {
	flat, top := 3_990.0, 6_990.0
	s := scene(t, road(t, 12_000, hilly), 250, ride.Span{StartM: flat, EndM: flat}, ride.Span{StartM: top, EndM: top})
	ahead := func(a Aid, lineM float64) float64 {
		sprint := atLine(t, s, a, lineM)
		return sprint.AheadM()
	}
	if on, up := ahead(dragAid(), flat), ahead(dragAid(), top); on < 3*up {
		t.Errorf("less drag is worth %v m at a flat line, %v m at one on a climb", on, up)
	}
	if on, up := ahead(massAid(), flat), ahead(massAid(), top); up < 3*on {
		t.Errorf("less mass is worth %v m at a flat line, %v m at one on a climb", on, up)
	}
	if on, up := at(t, s, dragAid(), 2_000).GainS, at(t, s, dragAid(), 5_500).GainS; on < 3*up {
		t.Errorf("less drag gains %v s on the flat, %v s on the climb", on, up)
	}
	if on, up := at(t, s, massAid(), 2_000).GainS, at(t, s, massAid(), 5_500).GainS; up < 3*on {
		t.Errorf("less mass gains %v s on the flat, %v s on the climb", on, up)
	}
}
