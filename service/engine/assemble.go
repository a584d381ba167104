package engine

import (
	"context"
	"errors"
	"fmt"
	"math"

	"parcours.example/analysis/course"
	"parcours.example/analysis/track"
)

// Assembly is what is asked of a course that is made of others.
type Assembly struct {
	// Name is that of the first part that has one where empty.
	Name string
	// AscentThresholdM is as in course.Options.
	AscentThresholdM float64
	// Marks stand beside those of the parts, by position or by distance along the
	// whole.
	Marks []track.Mark
	Parts []AssemblyPart
}

// AssemblyPart is a course, or a stretch of one, in an assembly.
type AssemblyPart struct {
	Course CourseSource
	// FromM and ToM bound the stretch in metres along this course; NaN for its ends.
	// FromM is behind ToM where the stretch goes across the line of a closed course.
	FromM, ToM float64
	// Reverse rides the stretch from ToM back to FromM.
	Reverse bool
	// Repeat is how often it is ridden, at least 1.
	Repeat int
}

// AssembledPart says which stretch of which course a part of an assembly is.
type AssembledPart struct {
	CourseID   string
	FromM, ToM float64
	Reverse    bool
	Repeat     int
}

// Assemble makes one course of several. The parts are analysed, or found in the cache,
// each by itself; the whole is cached under the digest of their ids and of all that is
// asked. Errors are those of Course, with the place of the part.
func (e *Engine) Assemble(ctx context.Context, a Assembly) (*Course, error) {
	made := &Course{Options: CourseOptions{Options: course.Options{
		Name: a.Name, AscentThresholdM: a.AscentThresholdM, Marks: a.Marks,
	}}}
	var pieces []course.Piece
	for _, part := range a.Parts {
		c, err := e.Course(ctx, part.Course)
		if err != nil {
			return nil, err
		}
		if made.Options.Name == "" {
			made.Options.Name = c.Name
		}
		piece := part.piece(c)
		pieces = append(pieces, piece)
		made.Assembly = append(made.Assembly, AssembledPart{
			CourseID: c.ID, FromM: piece.FromM, ToM: piece.ToM, Reverse: piece.Reverse, Repeat: piece.Repeat,
		})
	}
	made.ID = assemblyID(made)
	c, err := e.assembled(ctx, made, pieces)
	return c, a.placed(err)
}

// piece is the part's stretch of its course. A bound that is beyond an end by rounding
// alone is that end.
func (p AssemblyPart) piece(c *Course) course.Piece {
	length := c.LengthM()
	piece := course.Piece{Course: c.Course, ToM: length, Reverse: p.Reverse, Repeat: max(1, p.Repeat)}
	if !math.IsNaN(p.FromM) {
		piece.FromM = p.FromM
	}
	if !math.IsNaN(p.ToM) && math.Abs(p.ToM-length) > roundingM {
		piece.ToM = p.ToM
	}
	return piece
}

// nodesOf is how many nodes pieces may come to.
func nodesOf(pieces []course.Piece) int {
	nodes := 0
	for _, p := range pieces {
		nodes += len(p.Course.S) * p.Repeat
	}
	return nodes
}

// assembled makes the course, unless it is cached.
func (e *Engine) assembled(ctx context.Context, made *Course, pieces []course.Piece) (*Course, error) {
	c, ok := e.courses.byID(made.ID)
	e.meter.lookup(ctx, ok)
	if ok {
		return c, nil
	}
	return e.flights.shared(ctx, made.ID, func(ctx context.Context) (*Course, error) {
		if c, ok := e.known(ctx, made.ID); ok {
			return c, nil
		}
		return admitted(ctx, e.admit, stepsPerNode*float64(nodesOf(pieces)), nodesOf(pieces) > largePoints, func(ctx context.Context) (*Course, error) {
			stop := e.meter.time(ctx, stageCourse)
			whole, err := course.Assemble(ctx, pieces, course.AssembleOptions{
				Name: made.Options.Name, AscentThresholdM: made.Options.AscentThresholdM, Marks: made.Options.Marks,
			})
			stop()
			return e.analysed(ctx, made, whole, err)
		})
	})
}

// placed adds to a fault of the whole the place in the request of what it is about.
func (a Assembly) placed(err error) error {
	var made *course.Error
	if !errors.As(err, &made) {
		return err
	}
	part := fmt.Sprintf("#/parts/%d", made.Part)
	at := "#/parts"
	switch made.Code {
	case course.CodePartsDoNotJoin, course.CodeTooShort:
		at = part
	case course.CodeCutOutside:
		at = part + "/to_m"
		if made.Actual == a.Parts[made.Part].FromM {
			at = part + "/from_m"
		}
	case course.CodeMarkOutside:
		at = "#/marks"
		if i := markAt(a.Marks, made.Actual); i >= 0 {
			at = fmt.Sprintf("#/marks/%d", i)
		}
	}
	return &PlacedError{Pointer: at, Err: err}
}
