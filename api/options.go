package api

import (
	"errors"
	"fmt"

	"github.com/gin-gonic/gin"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// rawSource is the source of a course whose file is the whole body, with its options
// and marks in short form from the query.
func rawSource(c *gin.Context, options CourseOptions, marks []string) (engine.CourseSource, error) {
	body := received(c)
	source := engine.CourseSource{File: &engine.File{MediaType: mediaType(c.Request), Content: body.content, SentBytes: body.sent}}
	var err error
	if source.Options, err = decodeOptions("", &options); err != nil {
		return source, err
	}
	source.Options.Marks, err = decodeShort(marks, engine.ParseMark)
	return source, err
}

// decodeOptions turns the contract's options, which stand at a pointer, into the
// engine's.
func decodeOptions(at string, o *CourseOptions) (engine.CourseOptions, error) {
	out := engine.CourseOptions{Options: course.Defaults()}
	if o == nil {
		return out, nil
	}
	out.Name = valueOr(o.Name, "")
	out.Laps = valueOr(o.Laps, 0)
	out.LapLine = valueOr(o.LapLine, "")
	out.Reverse = valueOr(o.Reverse, false)
	out.Smoothing = course.Smoothing(valueOr(o.Smoothing, Smoothing(out.Smoothing)))
	out.SpacingM = valueOr(o.SpacingM, out.SpacingM)
	out.AscentThresholdM = valueOr(o.AscentThresholdM, out.AscentThresholdM)
	out.Track = valueOr(o.Track, 0)
	out.StartM, out.EndM = valueOr(o.StartM, 0), valueOr(o.EndM, 0)
	var err error
	out.Marks, err = decodeMarks(at+"/marks", valueOr(o.Marks, nil))
	return out, err
}

// decodeMarks turns the contract's marks, a list at a pointer, into the engine's, and
// names every one that isn't whole.
func decodeMarks(at string, marks []MarkInput) ([]track.Mark, error) {
	p := &problem{kind: kindInvalidRequest, detail: "The request doesn't fit the contract; see errors."}
	var out []track.Mark
	for i, m := range marks {
		made, err := engine.AskedMark{
			Name: m.Name, Kind: track.MarkKind(valueOr(m.Kind, MarkInputKindOther)),
			AtM: number(m.AtM), LatDeg: number(m.LatDeg), LonDeg: number(m.LonDeg), HeadingDeg: number(m.HeadingDeg),
		}.Mark(fmt.Sprintf("%s/%d", at, i))
		if e, ok := errors.AsType[*engine.Error](err); ok {
			p.faults = append(p.faults, Fault{Pointer: &e.Pointer, Code: "bad-combination", Detail: e.Detail})
		}
		out = append(out, made)
	}
	if p.faults != nil {
		return nil, p
	}
	return out, nil
}

// decodeShort reads texts in short form and names every one that can't be read.
func decodeShort[T any](texts []string, parse func(string) (T, error)) ([]T, error) {
	p := &problem{kind: kindInvalidRequest, detail: "The request doesn't fit the contract; see errors."}
	var out []T
	for _, text := range texts {
		read, err := parse(text)
		if e, ok := errors.AsType[*engine.Error](err); ok {
			p.faults = append(p.faults, Fault{Parameter: optional(e.Parameter), Code: "bad-format", Detail: clip(e.Detail)})
		}
		out = append(out, read)
	}
	if p.faults != nil {
		return nil, p
	}
	return out, nil
}

// encodeOptions writes the options that a course was made with: sent again with what
// it was made of, they give the same course.
func encodeOptions(c *engine.Course) CourseOptions {
	o := c.Options
	out := CourseOptions{Name: optional(o.Name), AscentThresholdM: &o.AscentThresholdM}
	if len(o.Marks) > 0 {
		marks := each(o.Marks, encodeAskedMark)
		out.Marks = &marks
	}
	if len(c.Assembly) > 0 {
		return out
	}
	smoothing := Smoothing(o.Smoothing)
	out.Laps, out.LapLine = optional(o.Laps), optional(o.LapLine)
	out.Reverse, out.Smoothing, out.SpacingM = &o.Reverse, &smoothing, &o.SpacingM
	out.Track, out.StartM, out.EndM = optional(o.Track), &o.StartM, optional(o.EndM)
	return out
}

func encodeAskedMark(m track.Mark) MarkInput {
	kind := MarkInputKind(m.Kind)
	out := MarkInput{Name: m.Name, Kind: &kind}
	if m.Pos == (geodesy.Vec{}) {
		out.AtM = &m.AtM
		return out
	}
	lat, lon := m.Pos.Degrees()
	out.LatDeg, out.LonDeg = finite(lat, decimalsDegrees), finite(lon, decimalsDegrees)
	if m.Directed {
		out.HeadingDeg = &m.HeadingDeg
	}
	return out
}
