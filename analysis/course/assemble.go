package course

import (
	"context"
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/track"
)

// Piece is a stretch of a course, to be put together with others.
type Piece struct {
	Course *Course
	// FromM and ToM are positions in metres on the course, in its own direction. ToM
	// is its end at 0 or NaN. On a course whose ends meet, a stretch whose end lies
	// before its start goes over the line, and one whose end is its start, above 0,
	// once round.
	FromM, ToM float64
	// Reverse says that the stretch is ridden backwards, from ToM to FromM.
	Reverse bool
	// Repeat is how often the stretch is ridden in a row; 0 stands for once. One that
	// is ridden more than once must end where it starts.
	Repeat int
}

// AssembleOptions say how courses are put together.
type AssembleOptions struct {
	// Name is the name of the whole; the first piece's where empty.
	Name string
	// AscentThresholdM is as in Options.
	AscentThresholdM float64
	// Marks are named places beside those of the pieces. One given by its distance
	// stands there on the whole.
	Marks []track.Mark
}

// Assemble puts pieces of conditioned courses together, in the order in which they are
// ridden. Their nodes stay as they are. Where two pieces meet, the first is cut off if
// it runs up to 150 m past the start of the next one, a gap of up to 100 m is closed (of
// one up to 20 m what lies across the road by bending the line, by 3°, the rest
// straight), and a misfit of the elevation, up to 10 m or a gradient of 1 %, is spread
// over up to 1,000 m on either side. Of a piece that is repeated and one that isn't, the
// latter is bent and spread over. Each is told in a warning, as are those of the pieces
// at their places in the whole.
//
// A piece that is ridden more than once makes the declared laps; of several the one
// that covers most, the others are other circuits. Without one, laps are looked for as
// in a file. If one piece has no positions the whole has none; where one has no
// elevation it is bridged straight.
//
// Errors are *Error with the index of the piece that they are about: CodeTooShort,
// CodeCutOutside, CodePartsDoNotJoin, CodeTooLong, CodeTooManyNodes and
// CodeMarkOutside; or the context's error.
func Assemble(ctx context.Context, pieces []Piece, opt AssembleOptions) (*Course, error) {
	if len(pieces) == 0 {
		return nil, &Error{Code: CodeTooShort, Detail: "an assembly needs a part"}
	}
	stretches, err := stretchesOf(pieces)
	if err != nil {
		return nil, err
	}
	if err := checkStretches(stretches); err != nil {
		return nil, err
	}
	l, bad := lay(stretches)
	if bad != nil {
		return nil, &Error{
			Code: CodePartsDoNotJoin, Limit: bad.limit, Actual: bad.actual, Part: bad.next,
			Detail: fmt.Sprintf("part %d can't follow: %s", bad.next+1, bad.told(fmt.Sprintf("part %d", bad.next), "it")),
		}
	}
	c := &making{Course: &Course{Name: opt.Name, Quality: assembledQuality(pieces, l, opt)}}
	if c.Name == "" {
		c.Name = pieces[0].Course.Name
	}
	c.setStrip(l.strip)
	c.bridge()
	c.marks = assembledMarks(pieces, l)
	c.laps = assembledLaps(l)
	if err := c.addMarks(opt.Marks); err != nil {
		return nil, err
	}
	if err := c.finish(ctx, opt.AscentThresholdM); err != nil {
		return nil, err
	}
	return c.Course, nil
}

// stretchesOf returns the pieces as stretches that agree in what is known of them.
func stretchesOf(pieces []Piece) ([]stretch, error) {
	stretches := make([]stretch, len(pieces))
	placed, high := true, false
	for _, p := range pieces {
		placed = placed && p.Course.HasPositions()
		high = high || p.Course.HasElevation()
	}
	for i, p := range pieces {
		r := p.Course.strip()
		if !placed {
			r.pos, r.turning = nil, nil
		}
		if high && r.z == nil {
			r.z = slices.Repeat([]float64{math.NaN()}, len(r.s))
		}
		st, err := p.stretch(r)
		if err != nil {
			err.Part = i
			return nil, err
		}
		st.piece = i
		stretches[i] = st
	}
	return stretches, nil
}

// stretch returns the piece as a stretch of its course's strip.
func (p Piece) stretch(r strip) (stretch, *Error) {
	from, to, err := p.bounds()
	if err != nil {
		return stretch{}, err
	}
	st, err := along(r, from, to)
	if err != nil {
		return st, err
	}
	if p.Reverse {
		st = st.turned()
	}
	if p.Repeat > 1 {
		if bad := st.close(p.Repeat); bad != nil {
			return st, notRound(bad)
		}
	}
	return st, nil
}

// bounds returns the piece's ends in metres on its course.
func (p Piece) bounds() (from, to float64, err *Error) {
	length := p.Course.LengthM()
	from, to = p.FromM, p.ToM
	if math.IsNaN(to) || to == 0 {
		to = length
	}
	return cutBounds(from, to, length)
}

// along returns the stretch from one position to another, over the line if the other
// lies before it or is the same.
func along(r strip, from, to float64) (stretch, *Error) {
	length := r.lengthM()
	over := from >= to
	if from >= length-cutTolerance {
		from, over = 0, false
	}
	if over && to <= cutTolerance {
		to, over = length, false
	}
	switch {
	case over:
		return overLine(r, from, to)
	case to-from < min(shortestCutM, length):
		return stretch{}, tooShortCut(from, to)
	}
	return stretchOf(r, from, to), nil
}

// overLine returns the stretch from a position to the end and on from the start to
// another.
func overLine(r strip, from, to float64) (stretch, *Error) {
	pieces := []stretch{stretchOf(r, from, r.lengthM()), stretchOf(r, 0, to)}
	l, bad := lay(pieces)
	if bad != nil {
		return stretch{}, notRound(bad)
	}
	return stretch{
		strip: l.strip, times: 1, notes: l.notes,
		sources: []source{{from: from, to: from + l.strips[0].lengthM()}, {from: 0, to: to, at: l.starts[1]}},
	}, nil
}

// notRound refuses a piece that must come back to its start.
func notRound(m *misjoin) *Error {
	return &Error{
		Code: CodePartsDoNotJoin, Limit: m.limit, Actual: m.actual,
		Detail: "a part that is repeated, or goes over the line, must come back to its start: " + m.told("its course", "it"),
	}
}

// bridge fills what the pieces without elevation leave open.
func (c *making) bridge() {
	var s, z []float64
	for i, v := range c.Z {
		if !math.IsNaN(v) {
			s, z = append(s, c.S[i]), append(z, v)
		}
	}
	if len(z) < len(c.Z) {
		c.Z = interpolateAll(s, z, c.S)
	}
}

// assembledLaps returns the laps that the repeated stretches make.
func assembledLaps(l *layout) declaredLaps {
	most, widest := -1, 0.0
	for k, st := range l.stretches {
		if cover := float64(st.times) * st.lengthM(); st.times > 1 && cover > widest {
			most, widest = k, cover
		}
	}
	if most < 0 {
		return declaredLaps{}
	}
	d := declaredLaps{main: rounds{l.lines(most), 1}}
	if len(l.stretches) == 1 {
		d.copies, d.main.lines = l.stretches[0].times, declaredLines(l.lengthM(), l.stretches[0].times)
	}
	for k, st := range l.stretches {
		if st.times > 1 && k != most {
			d.others = append(d.others, rounds{l.lines(k), 1})
		}
	}
	return d
}

// lines returns where each time that a stretch is ridden starts and where the last one
// ends.
func (l *layout) lines(stretch int) []float64 {
	var lines []float64
	end := 0.0
	for i, k := range l.of {
		if k == stretch {
			lines = append(lines, l.starts[i])
			end = min(l.starts[i]+l.strips[i].lengthM(), l.lengthM())
		}
	}
	if l.of[len(l.of)-1] == stretch {
		end = l.lengthM()
	}
	return append(lines, end)
}

// assembledMarks returns the marks of the pieces as far as they are ridden, each once.
func assembledMarks(pieces []Piece, l *layout) []track.Mark {
	var marks []track.Mark
	for i, p := range pieces {
		var ridden []track.Mark
		for _, m := range p.Course.Marks {
			if slices.ContainsFunc(m.At, func(x float64) bool { return l.comesBy(i, x) }) {
				ridden = append(ridden, m.place)
			}
		}
		for _, m := range l.movedMarks(i, ridden) {
			if !slices.Contains(marks, m) {
				marks = append(marks, m)
			}
		}
	}
	return marks
}

// comesBy reports whether a position on a piece, or one beside it, was laid.
func (l *layout) comesBy(piece int, at float64) bool {
	for _, x := range [...]float64{at, at - markBesideCutM, at + markBesideCutM} {
		if l.places(piece, x) != nil {
			return true
		}
	}
	return false
}

// assembledQuality sums up the quality of the pieces, with what was done to join them.
func assembledQuality(pieces []Piece, l *layout, opt AssembleOptions) Quality {
	q := Quality{AscentThresholdM: opt.AscentThresholdM}
	told := map[*Course]bool{}
	for i, p := range pieces {
		part, again := p.Course.Quality, told[p.Course]
		told[p.Course] = true
		q.widen(part)
		share := float64(l.stretches[i].times) * l.stretches[i].lengthM() / p.Course.LengthM()
		q.DistanceAsReadM += float64(share * part.DistanceAsReadM)
		q.AscentUnsmoothedM += float64(share * part.AscentUnsmoothedM)
		for _, w := range l.moved(i, part.Warnings) {
			switch {
			case !math.IsNaN(w.AtM):
				q.Warnings = append(q.Warnings, w)
			case !again && w.Code != "elevation-missing": // of all a piece, see warnPieces
				q.warn(w.Code, w.AtM, "part %d: %s", i+1, w.Detail)
			}
		}
		if !again {
			q.PointsRead += part.PointsRead
			q.PointsDropped += part.PointsDropped
		}
	}
	q.warnPieces(pieces, l)
	q.Warnings = append(q.Warnings, l.notes...)
	return q
}

// widen takes over what is worse in the quality of a piece.
func (q *Quality) widen(part Quality) {
	q.SpacingM = max(q.SpacingM, part.SpacingM)
	q.MedianStepM = max(q.MedianStepM, part.MedianStepM)
	q.ElevationNoiseM = max(q.ElevationNoiseM, part.ElevationNoiseM)
	q.PositionNoiseM = max(q.PositionNoiseM, part.PositionNoiseM)
}

// warnPieces tells which pieces lack what others have.
func (q *Quality) warnPieces(pieces []Piece, l *layout) {
	for i, p := range pieces {
		if l.z != nil && !p.Course.HasElevation() {
			at := l.starts[slices.Index(l.of, i)]
			q.warn("elevation-missing", at, "part %d has no elevations: its %.0f m are bridged straight", i+1, l.stretches[i].lengthM())
		}
		if !p.Course.HasPositions() && slices.ContainsFunc(pieces, func(p Piece) bool { return p.Course.HasPositions() }) {
			q.warn("parts-without-positions", math.NaN(), "part %d has no positions, so the whole has none: bends, wind and ground ridden again can't be told", i+1)
		}
	}
}
