package engine

import (
	"fmt"
	"math"

	"parcours.example/analysis/launch"
	"parcours.example/analysis/wording"
)

// warn notes what to know of a launch that was found.
func (item *Launch) warn() {
	s, line := item.Sprint, item.Passes[0].EndM
	note := func(code string, beforeM float64, format string, args ...any) {
		item.Warnings = append(item.Warnings, LaunchWarning{Code: code, Detail: fmt.Sprintf(format, args...), AtM: line - beforeM})
	}
	if s.AtOnce {
		note("launch-at-once", s.LaunchM, "The best launch is where the approach starts, %s before the line; an earlier one may be better: a longer approach tells.", wording.Metres(s.LaunchM))
	}
	if s.AheadS < 0 {
		note("cannot-come-past", 0, "The head of the line of riders is there %s sooner if it rides on at %s.", wording.Hundredths(s.AheadS), wording.Watts(item.HeadPowerW))
	}
	if !math.IsNaN(s.LostM) {
		note("loses-wheel", s.LostM, "The wheel becomes too fast to be held %s before the line.", wording.Metres(s.LostM))
	}
	if before, mps, ok := slowestBend(item); ok {
		note("bend-in-approach", before, "A bend %s before the line, or braking for one, allows %s; the sprint reaches %s and reckons with no bend.", wording.Metres(before), wording.Speed(mps), wording.Speed(s.PeakSpeedMps))
	}
}

// slowestBend returns the place on the approach where bends allow the least speed, before
// the line and in m/s; ok is false where that is as much as the sprint reaches.
func slowestBend(item *Launch) (beforeM, mps float64, ok bool) {
	least := math.Inf(1)
	pieces := item.Approach.Pieces
	for _, p := range pieces {
		if p.EndLimit < least {
			least, beforeM = p.EndLimit, pieces[len(pieces)-1].EndM-p.EndM
		}
	}
	mps = math.Sqrt(least)
	return beforeM, mps, mps < item.Sprint.PeakSpeedMps
}

// told returns the items as the recommendation needs them.
func (l *launching) told(items []Launch) []launch.Told {
	var out []launch.Told
	for _, item := range items {
		if item.Sprint == nil {
			continue
		}
		name := item.Rider
		if len(l.setups) > 1 {
			name += " on " + item.Setup
		}
		passes := make([]string, len(item.Passes))
		for i, p := range item.Passes {
			passes[i] = p.Words()
		}
		out = append(out, launch.Told{
			Line: item.LineIndex, Passes: passes, Name: name, Approach: item.Approach, Sprint: item.Sprint,
			Inclines: item.Inclines, Wheels: item.Wheels,
		})
	}
	return out
}
