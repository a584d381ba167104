package engine

import (
	"fmt"

	"parcours.example/analysis/choice"
	"parcours.example/analysis/wording"
)

// model says what a comparison supposes.
func (q *question) model(c *choice.Case) []string {
	effort := "Every set-up is ridden at the same asked power, by the motion of /v1/predictions."
	if q.plans() > 0 {
		effort = "Every set-up is ridden by its own plan of least time, by the motion of /v1/predictions."
	}
	out := []string{
		effort,
		"The measure of an ambition is the time from the start to a line, or the time through a stretch; over several passes it is their mean.",
		fmt.Sprintf("A gap's band holds with a probability of %s %%, to first order. Errors of rider, power, road and weather (uncertainties) move both set-ups and mostly cancel; errors of setup_uncertainties are each set-up's own, where the two differ in that value. A gap whose band holds none is a tie.", wording.Rounded(c.Doubt.CoveragePct, 1)),
	}
	if len(c.Quantities) > 0 {
		out = append(out,
			"A crossing point is where the two best set-ups of an ambition take the same time, all else equal, found by riding both: the one nearest to the rider's own value.",
			"Riders of another mass ride at the same power per kilogram, and drag areas grow with the frontal area of riders of the same height (Bassett et al. 1999; 1.80 m where none is given). Power changes in proportion all the way, shelter likewise.",
			"The crossing gradient is that of a steady road in still air as dense as at the start, without freewheeling; it is one for all ambitions of a pair.",
		)
	}
	if len(c.Changes) > 0 {
		out = append(out,
			"With a change the power asked along the course stays that of the set-up changed from; W′ recovers while standing. A stretch that ends where the change is ends before the stop, one that starts there starts after it.",
			"What a change loses is what it would lose onto the same bicycle, braking, standing and getting up to speed again; what it wins is what the other bicycle is faster from there on. Nobody waits.",
		)
	}
	return out
}
