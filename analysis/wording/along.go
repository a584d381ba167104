package wording

import (
	"fmt"
	"math"
)

// secondsPerDay is the length of a day.
const secondsPerDay = 86_400

// Covered writes a distance from the start in the long unit to a hundredth, without the
// unit, as tables do.
func (u Units) Covered(m float64) string { return Rounded(m/u.LongM(), 2) }

// ToGo writes the distance that is left at a place, in the manner of Covered: the length
// as it is written less the distance covered as it is written, so that the two add up on
// every line. It is therefore up to a hundredth off what is left rounded by itself.
func (u Units) ToGo(lengthM, atM float64) string {
	return Rounded(float64(u.hundredths(lengthM)-u.hundredths(atM))/100, 2)
}

// hundredths counts those of the long unit as Rounded rounds them.
func (u Units) hundredths(m float64) int {
	return int(math.Round(math.Round(m/u.LongM()*1e6) / 1e6 * 100))
}

// Level writes an elevation in whole metres or feet, without the unit.
func (u Units) Level(m float64) string { return Rounded(m/u.ShortM(), 0) }

// Pace writes an average speed in m/s to a tenth of km/h or mph, without the unit.
func (u Units) Pace(mps float64) string { return Rounded(mps*3600/u.LongM(), 1) }

// LongClock writes a time in s, ≥ 0, as h:mm:ss, hours and all.
func LongClock(s float64) string {
	t := wholeSeconds(s)
	return fmt.Sprintf("%d:%02d:%02d", t/3600, t/60%60, t%60)
}

// TimeOfDay writes a time in s after midnight, ≥ 0, as hh:mm:ss; on a later day with the
// number of days: 01:12:05+1d.
func TimeOfDay(s float64) string {
	t := wholeSeconds(s)
	days, t := t/secondsPerDay, t%secondsPerDay
	text := fmt.Sprintf("%02d:%02d:%02d", t/3600, t/60%60, t%60)
	if days > 0 {
		text += fmt.Sprintf("+%dd", days)
	}
	return text
}

// wholeSeconds rounds as Clock does.
func wholeSeconds(s float64) int { return int(math.Round(math.Round(s*1e6) / 1e6)) }
