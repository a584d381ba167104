package ridden

import (
	"fmt"
	"math"
	"slices"
)

const (
	// Of a ride on other roads that comes by the course leastShare of the course, or
	// enoughM, must have been ridden on it; of one that is on it mostly leastM.
	leastM, enoughM = 300.0, 1000.0
	leastShare      = 0.1
	mostlyShare     = 0.8
	// leastOnShare is the least share of anchors on the course between the first and the
	// last that are.
	leastOnShare = 0.5
)

// onCourse refuses a ride that isn't on the course.
func (l *layer) onCourse(line *line, anchors []anchor, fixes []fix) error {
	along, way, on := 0.0, 0.0, 0
	for k := 1; k < len(fixes); k++ {
		if !fixes[k].rejoins {
			along += max(fixes[k].atM-fixes[k-1].atM, 0)
			on++
		}
	}
	for i := range anchors {
		way += anchors[i].wayM
	}
	mostly := along >= mostlyShare*way
	least := min(leastShare*l.course.LengthM(), enoughM)
	if mostly {
		least = min(leastM, l.course.LengthM()/2)
	}
	if len(fixes) == 0 || float64(on) < leastOnShare*float64(fixes[len(fixes)-1].anchor-fixes[0].anchor) {
		return l.refuse(line, anchors, along)
	}
	if along < least && mostly {
		return &Error{Code: CodeTooShort, AwayM: awayOf(line, anchors), OnShare: along / max(way, along, 1), Detail: fmt.Sprintf(
			"Only %.0f m of the course were ridden, and %.0f m are the least; send the whole recording.", along, least)}
	}
	if along < least {
		return l.refuse(line, anchors, along)
	}
	return nil
}

// awayOf is how far in metres the middle one of the anchors is from the course.
func awayOf(line *line, anchors []anchor) float64 {
	off := make([]float64, len(anchors))
	for i := range anchors {
		off[i] = line.away(anchors[i].pos)
	}
	slices.Sort(off)
	return off[len(off)/2]
}

// refuse says how far off the course a ride is.
func (l *layer) refuse(line *line, anchors []anchor, along float64) error {
	near, against, way := 0, 0, 0.0
	var pieces []int32
	var places []place
	for i := range anchors {
		a := &anchors[i]
		way += a.wayM
		pieces, places = line.around(a.pos, pieces, places)
		if len(places) == 0 {
			continue
		}
		near++
		if !slices.ContainsFunc(places, func(p place) bool { return a.heading.towards(line.direction(p.piece)) > -0.5 }) {
			against++
		}
	}
	e := &Error{Code: CodeNotOnCourse, AwayM: awayOf(line, anchors), OnShare: along / max(way, along, 1)}
	share := 100 * float64(near) / float64(len(anchors))
	if 2*against > len(anchors) {
		e.Code = CodeOtherDirection
		e.Detail = fmt.Sprintf("The ride goes along the course the other way: %.0f %% of it lies within %.0f m of the course, most of that against its direction. Turn the course round, or send the ride's own course.", share, cellM)
		return e
	}
	e.Detail = fmt.Sprintf("The ride is not on this course: %s %.0f %% of it lies within %.0f m of it, and %.0f m of the course were ridden. Send the course that was ridden.",
		farWords(e.AwayM), share, cellM, along)
	return e
}

func farWords(awayM float64) string {
	if awayM < 10_000 {
		return fmt.Sprintf("half of its positions are more than %.0f m away,", awayM)
	}
	return fmt.Sprintf("half of its positions are more than %.0f km away,", awayM/1000)
}

// away is the distance of a position from the course in metres, by its nodes.
func (l *line) away(p xy) float64 {
	square := math.Inf(1)
	stride := max(1, len(l.node)/2000) // the far ones to some metres
	for i := 0; i < len(l.node); i += stride {
		d := l.node[i].sub(p)
		square = min(square, d.dot(d))
	}
	return math.Sqrt(square)
}
