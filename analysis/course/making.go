package course

import (
	"context"
	"fmt"

	"parcours.example/analysis/track"
)

// making is a course on its way: it has its nodes, but no structure yet.
type making struct {
	*Course
	// marks are those of the file; those by distance are on the course's axis.
	marks []track.Mark
	laps  declaredLaps
	// read is the line as read, if a cut is asked for.
	read readAxis
}

// complete makes the conditioned line the course that was asked for: cut, ridden in
// laps, with its marks.
func (c *making) complete(ctx context.Context, opt Options) (*Course, error) {
	if opt.Name != "" {
		c.Name = opt.Name
	}
	if err := c.trim(opt.StartM, opt.EndM); err != nil {
		return nil, err
	}
	if opt.Laps > 0 {
		if err := c.declare(ctx, opt.Laps); err != nil {
			return nil, err
		}
	}
	if err := c.addMarks(opt.Marks); err != nil {
		return nil, err
	}
	c.laps.line = opt.LapLine
	if err := c.finish(ctx, opt.AscentThresholdM); err != nil {
		return nil, err
	}
	return c.Course, nil
}

// finish adds what follows from the nodes, and the structure. It fails with the context's
// error.
func (c *making) finish(ctx context.Context, ascentThresholdM float64) error {
	if c.Pos != nil {
		c.Heading = headings(c.Pos)
		c.Curvature = curvatures(c.S, c.turning)
	}
	if c.Z != nil {
		c.AscentTo, c.DescentTo = cumulativeAscent(c.Z, ascentThresholdM)
		c.warnImplausible()
	}
	if err := c.structure(ctx, c.laps, c.marks); err != nil {
		return err
	}
	c.warnDrift()
	return nil
}

// MostNodes bounds the nodes of a course that is put together.
const MostNodes = 3_000_000

// checkStretches refuses what would become too long.
func checkStretches(stretches []stretch) error {
	nodes, length := 0, 0.0
	for _, st := range stretches {
		nodes += st.times * len(st.s)
		length += float64(st.times) * st.lengthM()
	}
	if length > LongestM {
		return tooLong(length)
	}
	if nodes > MostNodes {
		return &Error{
			Code: CodeTooManyNodes, Limit: MostNodes, Actual: float64(nodes),
			Detail: fmt.Sprintf("the course would have %d nodes; at most %d are laid. A wider spacing or fewer laps make it less", nodes, MostNodes),
		}
	}
	return nil
}
