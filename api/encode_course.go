package api

import (
	"math"

	"parcours.example/analysis"
	"parcours.example/analysis/course"
	"parcours.example/analysis/elementary"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// encodeCourse writes an analysed course as the contract has it, without profile
// and geometry.
func encodeCourse(e *engine.Course) *Course {
	c, t := e.Course, e.Terrain
	doc := &Course{
		CourseID: e.ID, EngineVersion: analysis.EngineVersion, Name: optional(c.Name),
		DistanceM: metres(c.LengthM()), RoadLengthM: metres(roadLength(c)), Shape: CourseShape(c.Shape),
		Laps: encodeLaps(c), OtherCircuits: each(c.OtherCircuits, encodeCircuit(c)), Parts: each(c.Parts, func(p course.Part) Part { return encodePart(c, p) }),
		Climbs: each(t.Climbs, encodeClimb(t.MaxWindowM)), Descents: each(t.Descents, encodeDescent(t.MaxWindowM)),
		Marks: each(t.Marks, encodeMark), Climbing: encodeClimbing(c, t),
		GradientBands: each(t.GradientBands, encodeBand), Bends: each(t.Bends, encodeBend),
		Repeats: each(c.Repeats, encodeRepeat), Steepest: each(t.Steepest, encodeWindow),
		Options: encodeOptions(e), Quality: encodeQuality(c),
	}
	if len(e.Assembly) > 0 {
		parts := each(e.Assembly, encodeAssembled)
		doc.AssembledFrom = &parts
	}
	if c.HasElevation() {
		low, high := c.Z[0], c.Z[0]
		for _, z := range c.Z {
			low, high = math.Min(low, z), math.Max(high, z)
		}
		doc.AscentM = finite(c.AscentM(0, c.LengthM()), decimalsM)
		doc.DescentM = finite(c.DescentM(0, c.LengthM()), decimalsM)
		doc.MinElevationM, doc.MaxElevationM = finite(low, decimalsM), finite(high, decimalsM)
	}
	return doc
}

func encodeAssembled(p engine.AssembledPart) AssembledPart {
	return AssembledPart{CourseID: p.CourseID, FromM: metres(p.FromM), ToM: metres(p.ToM), Reverse: p.Reverse, Repeat: p.Repeat}
}

// each maps a list; the result is never nil, so that it is written as [].
func each[T, U any](xs []T, f func(T) U) []U {
	out := make([]U, len(xs))
	for i, x := range xs {
		out[i] = f(x)
	}
	return out
}

// roadLength returns the length along the slope in metres.
func roadLength(c *course.Course) float64 {
	if !c.HasElevation() {
		return c.LengthM()
	}
	sum := 0.0
	for i := range len(c.S) - 1 {
		sum += elementary.Hypot(c.S[i+1]-c.S[i], c.Z[i+1]-c.Z[i])
	}
	return sum
}

func encodeLaps(c *course.Course) Laps {
	l := Laps{Count: c.Laps.Count, Source: LapsSource(c.Laps.Source)}
	if l.Count > 0 {
		l.LengthM, l.StartM = finite(c.Laps.LengthM, decimalsM), finite(c.Laps.StartM, decimalsM)
		l.Agreement = finite(c.Laps.Agreement, decimalsRatio)
		if c.HasElevation() {
			l.AscentM = finite(c.Laps.AscentM, decimalsM)
		}
	}
	return l
}

func encodeCircuit(c *course.Course) func(course.OtherCircuit) OtherCircuit {
	return func(o course.OtherCircuit) OtherCircuit {
		out := OtherCircuit{
			Count: o.Count, StartM: metres(o.StartM), EndM: metres(o.EndM), LengthM: metres(o.LengthM),
			Agreement: round(o.Agreement, decimalsRatio),
		}
		if c.HasElevation() {
			out.AscentM = finite(o.AscentM, decimalsM)
		}
		return out
	}
}

func encodePart(c *course.Course, p course.Part) Part {
	out := Part{
		Kind: PartKind(p.Kind), Lap: optional(p.Lap),
		StartM: metres(p.StartM), EndM: metres(p.EndM), LengthM: metres(p.EndM - p.StartM),
	}
	if c.HasElevation() {
		out.AscentM, out.DescentM = finite(p.AscentM, decimalsM), finite(p.DescentM, decimalsM)
	}
	return out
}

func encodeRepeat(r course.Repeat) Repeat {
	return Repeat{StartM: metres(r.StartM), EndM: metres(r.EndM), AgainStartM: metres(r.AgainStartM), AgainEndM: metres(r.AgainEndM)}
}

func encodeQuality(c *course.Course) Quality {
	q := c.Quality
	out := Quality{
		PointsRead: q.PointsRead, PointsDropped: q.PointsDropped, SpacingM: metres(q.SpacingM),
		MedianStepM: finite(q.MedianStepM, decimalsM), DistanceAsReadM: metres(q.DistanceAsReadM),
		AscentThresholdM: finite(q.AscentThresholdM, decimalsM),
		Warnings: each(q.Warnings, func(w course.Warning) Warning {
			return Warning{Code: w.Code, Detail: w.Detail, AtM: finite(w.AtM, decimalsM)}
		}),
	}
	if c.HasElevation() {
		out.ElevationNoiseM = finite(q.ElevationNoiseM, decimalsM)
		out.AscentUnsmoothedM = finite(q.AscentUnsmoothedM, decimalsM)
	}
	if c.HasPositions() {
		out.PositionNoiseM = finite(q.PositionNoiseM, decimalsM)
	}
	return out
}

// encodeProfile writes the conditioned samples.
func encodeProfile(c *course.Course) *Profile {
	p := &Profile{SpacingM: metres(c.Quality.SpacingM), DistanceM: rounded(c.S, decimalsM)}
	if c.HasElevation() {
		elevation, gradient := rounded(c.Z, decimalsM), make([]float64, len(c.S)-1)
		for i := range gradient {
			gradient[i] = metres(100 * c.Gradient(i))
		}
		p.ElevationM, p.GradientPct = &elevation, &gradient
	}
	return p
}

// encodeGeometry writes the line as GeoJSON; nil without positions.
func encodeGeometry(c *course.Course) *LineString {
	if !c.HasPositions() {
		return nil
	}
	line := &LineString{Type: LineStringType("LineString"), Coordinates: make([][]float64, len(c.Pos))}
	for i, pos := range c.Pos {
		lat, lon := pos.Degrees()
		line.Coordinates[i] = []float64{round(lon, decimalsDegrees), round(lat, decimalsDegrees)}
		if c.HasElevation() {
			line.Coordinates[i] = append(line.Coordinates[i], metres(c.Z[i]))
		}
	}
	return line
}
