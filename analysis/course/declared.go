package course

import (
	"fmt"
	"math"

	"parcours.example/analysis/geodesy"
)

// How far the two ends of a line may be apart for the line to be taken as one lap:
// on the ground in metres, and in elevation both in metres and as the gradient that
// spreading the misfit over the lap adds.
const (
	maxLapGapM        = 100.0
	freeLapMisfitM    = 10.0
	maxMisfitGradient = 0.01
	// saidLapMisfitM is the misfit of elevation from which it is worth a warning.
	saidLapMisfitM = 1.0
)

// close makes the line a lap: it ends where it starts, a gap is bridged straight
// and a misfit of the elevation spread evenly over the lap.
func (l *line) close(q *Quality) error {
	if l.pos != nil {
		if err := l.closeGap(q); err != nil {
			return err
		}
	}
	first, last := firstKnown(l.z), lastKnown(l.z)
	if first < 0 {
		return nil
	}
	misfit := l.z[last] - l.z[first]
	limit := max(freeLapMisfitM, maxMisfitGradient*l.lengthM())
	if math.Abs(misfit) > limit {
		return &Error{
			Code:   "laps-do-not-close",
			Detail: fmt.Sprintf("the line can't be ridden as laps: it ends %.0f m higher or lower than it starts", math.Abs(misfit)),
			Limit:  limit, Actual: math.Abs(misfit),
		}
	}
	for i := range l.z {
		l.z[i] -= misfit * l.s[i] / l.lengthM()
	}
	l.z[len(l.z)-1] = l.z[0]
	if math.Abs(misfit) >= saidLapMisfitM {
		q.warn("lap-elevation-spread", math.NaN(), "the lap ends %.1f m off the elevation it starts at; the difference is spread over the lap", misfit)
	}
	return nil
}

// closeGap joins the end of the line to its start.
func (l *line) closeGap(q *Quality) error {
	n := len(l.pos)
	gap := geodesy.Distance(l.pos[n-1], l.pos[0])
	if gap > maxLapGapM {
		return &Error{
			Code:   "laps-do-not-close",
			Detail: fmt.Sprintf("the line can't be ridden as laps: its ends are %.0f m apart", gap),
			Limit:  maxLapGapM, Actual: gap,
		}
	}
	if gap == 0 {
		return nil
	}
	q.warn("lap-closed", l.lengthM(), "the ends of the lap are %.0f m apart and were joined", gap)
	l.s = append(l.s, l.lengthM()+gap)
	l.pos = append(l.pos, l.pos[0])
	l.z = append(l.z, l.z[n-1])
	return nil
}

func firstKnown(z []float64) int {
	for i, v := range z {
		if !math.IsNaN(v) {
			return i
		}
	}
	return -1
}

func lastKnown(z []float64) int {
	for i := len(z) - 1; i >= 0; i-- {
		if !math.IsNaN(z[i]) {
			return i
		}
	}
	return -1
}

// repeat makes the course, one closed lap, a course of that many equal laps.
func (c *Course) repeat(laps int) {
	n, length := len(c.S)-1, c.LengthM()
	if c.Z != nil { // what smoothing has left open at the line
		misfit := c.Z[n] - c.Z[0]
		for i := range c.Z {
			c.Z[i] -= misfit * c.S[i] / length
		}
		c.Z[n] = c.Z[0]
	}
	if c.Pos != nil {
		c.Pos[n] = c.Pos[0]
		// Round one lap the heading gains a whole number of turns.
		lap := c.turning
		turn := 360 * math.Round((lap[n-1]-lap[0])/360)
		for k := 1; k < laps; k++ {
			for _, h := range lap {
				c.turning = append(c.turning, h+float64(k)*turn)
			}
		}
	}
	for lap := 1; lap < laps; lap++ {
		for i := 1; i <= n; i++ {
			c.S = append(c.S, float64(lap)*length+c.S[i])
			if c.Z != nil {
				c.Z = append(c.Z, c.Z[i])
			}
			if c.Pos != nil {
				c.Pos = append(c.Pos, c.Pos[i])
			}
		}
	}
}
