package course

import (
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

const (
	// maxGapM is how far apart in metres the ends of two stretches of road may be to
	// be joined. Up to bentGapM what of it lies across the road is taken for the error of
	// two passes: the line is bent to meet, over bentOver times as much, by 3° that is.
	// The rest is closed straight, if it is leastStubM or more.
	maxGapM  = 100.0
	bentGapM = 20.0
	bentOver = 20.0
	// leastStubM is the shortest straight joint in metres.
	leastStubM = 0.5
	// saidGapM and saidMisfitM are the gap and the misfit of elevation at a joint,
	// in metres, from which they are worth a warning.
	saidGapM    = 1.0
	saidMisfitM = 1.0
	// spreadM is the length in metres on either side of a joint over which a misfit
	// of elevation is spread, as far as the stretches are that long.
	spreadM = 1000.0
	// A misfit up to freeMisfitM metres is always spread, a larger one if that adds at
	// most maxMisfitGradient.
	freeMisfitM       = 10.0
	maxMisfitGradient = 0.01
	// maxOverlapM is how far in metres a stretch may run past the start of the next
	// one, leastOverlapM what is no more than an error of position.
	maxOverlapM   = 150.0
	leastOverlapM = 5.0
)

// stretch is road to be laid, a number of times in a row.
type stretch struct {
	strip
	times int
	// piece is the index of the course that it was cut from, sources are where on it.
	piece   int
	sources []source
	// notes tell what was done to it, at places on itself.
	notes []Warning
}

// source says that the road between two positions on a course lies on a strip from at
// on, where it is ridden backwards down to it.
type source struct {
	from, to, at float64
	back         bool
}

// stretchOf returns the stretch of a strip between two positions, ridden once.
func stretchOf(r strip, from, to float64) stretch {
	return stretch{strip: r.cut(from, to), times: 1, sources: []source{{from: from, to: to}}}
}

// turned returns the stretch ridden the other way.
func (st stretch) turned() stretch {
	length := st.lengthM()
	st.strip = st.reversed()
	st.sources = slices.Clone(st.sources)
	for i, s := range st.sources {
		st.sources[i].at, st.sources[i].back = length-s.at, !s.back
	}
	st.notes = slices.Clone(st.notes)
	for i, w := range st.notes {
		st.notes[i].AtM = length - w.AtM
	}
	return st
}

// close makes the stretch one that ends where it starts, to be ridden several times.
func (st *stretch) close(times int) *misjoin {
	lap, notes, bad := st.closed()
	if bad != nil {
		return bad
	}
	st.strip, st.times = lap, times
	st.notes = append(st.notes, notes...)
	return nil
}

// local returns where a position on the course lies on the stretch, if it does.
func (st stretch) local(at float64) (float64, bool) {
	const slack = 1e-3
	for _, s := range st.sources {
		if at < s.from-slack || at > s.to+slack {
			continue
		}
		if s.back {
			return s.at - (at - s.from), true
		}
		return s.at + (at - s.from), true
	}
	return 0, false
}

// misjoin says why two stretches can't be joined, or one with itself.
type misjoin struct {
	// next is the index of the stretch at whose start they don't fit.
	next int
	// height tells a misfit of elevation from a gap.
	height        bool
	limit, actual float64
}

// told says it of what "the part" and the like stand for.
func (m *misjoin) told(one, other string) string {
	if m.height {
		return fmt.Sprintf("%s ends %.0f m higher or lower than %s starts; at most %.0f m can be spread", one, m.actual, other, m.limit)
	}
	return fmt.Sprintf("%s ends %.0f m from where %s starts; at most %.0f m are closed", one, m.actual, other, m.limit)
}

// layout is road laid of stretches.
type layout struct {
	strip
	stretches []stretch
	// strips are what was laid, of the indices of the stretches, starts where each
	// begins.
	strips []strip
	of     []int
	starts []float64
	// notes tell what was done; while the road is laid their places are the indices of
	// the strips in front of which the joints are.
	notes []Warning
}

// lay puts stretches one after the other. Where two meet, the first is cut if it
// runs past the start of the next, gaps are closed straight and misfits of the
// elevation spread to both sides. Stretches that are laid more than once must be
// closed.
func lay(stretches []stretch) (*layout, *misjoin) {
	l := &layout{stretches: stretches}
	for k, st := range stretches {
		for range st.times {
			l.strips, l.of = append(l.strips, st.strip), append(l.of, k)
		}
	}
	for i := 1; i < len(l.strips); i++ {
		if l.of[i] == l.of[i-1] {
			continue
		}
		if bad := l.join(i); bad != nil {
			bad.next = l.of[i]
			return nil, bad
		}
	}
	for _, next := range l.strips {
		l.append(next)
	}
	l.tell()
	return l, nil
}

// tell brings what is to be told onto the axis of the whole.
func (l *layout) tell() {
	for i := range l.notes {
		l.notes[i].AtM = l.starts[int(l.notes[i].AtM)]
	}
	for i, k := range l.of {
		if i > 0 && l.of[i-1] == k {
			continue
		}
		for _, w := range l.stretches[k].notes {
			w.AtM = l.starts[i] + min(w.AtM, l.strips[i].lengthM())
			l.notes = append(l.notes, w)
		}
	}
}

// note tells of the joint in front of strip i.
func (l *layout) note(i int, code, format string, args ...any) {
	l.notes = append(l.notes, Warning{Code: code, AtM: float64(i), Detail: fmt.Sprintf(format, args...)})
}

// join makes strip i fit to the one before.
func (l *layout) join(i int) *misjoin {
	a, b := &l.strips[i-1], &l.strips[i]
	if end := a.overlap(*b); end < a.lengthM() {
		l.note(i, "parts-overlap", "one part runs %.0f m past the place where the next one starts; that was cut off", a.lengthM()-end)
		*a = a.cut(0, end)
	}
	before, after := l.shares(i)
	gap := a.gapTo(*b)
	if gap > maxGapM {
		return &misjoin{limit: maxGapM, actual: gap}
	}
	if gap >= saidGapM {
		l.note(i, "parts-joined", "one part ends %.0f m from where the next one starts; they were joined", gap)
	}
	a.meet(b, before, after)
	return l.level(i, before, after)
}

// shares returns how much of a misfit in front of strip i the one before takes, and how
// much strip i: nothing where that is one of several copies and the other isn't.
func (l *layout) shares(i int) (before, after float64) {
	a, b := l.stretches[l.of[i-1]].times > 1, l.stretches[l.of[i]].times > 1
	switch {
	case a && !b:
		return 0, 1
	case b && !a:
		return 1, 0
	}
	return 0.5, 0.5
}

// meet bends the end of the strip and the start of the next one to meet, by their shares
// of what lies between them across the road.
func (r *strip) meet(next *strip, before, after float64) {
	aside, all := r.aside(*next)
	over := bentOver * aside.Norm()
	*r = r.bent(geodesy.Vec{}, aside.Scale(before), over)
	*next = next.bent(aside.Scale(-after), geodesy.Vec{}, over)
	switch {
	case !all:
	case after > 0:
		next.pos[0] = r.pos[r.last()]
	default:
		r.pos[r.last()] = next.pos[0]
	}
}

// aside returns what of the gap to the next strip is closed by bending the line, and
// whether that is all of it.
func (r strip) aside(next strip) (move geodesy.Vec, all bool) {
	if r.pos == nil || next.pos == nil {
		return move, false
	}
	gap := next.pos[0].Sub(r.pos[r.last()])
	if d := gap.Norm(); d <= cutTolerance || d > bentGapM {
		return move, false
	}
	way := unit(r.wayOut().Add(next.wayIn()))
	ahead := gap.Dot(way)
	if ahead < leastStubM {
		return gap, true
	}
	return gap.Sub(way.Scale(ahead)), false
}

// level makes the elevations of strip i and of the one before meet.
func (l *layout) level(i int, shareBefore, shareAfter float64) *misjoin {
	a, b := &l.strips[i-1], &l.strips[i]
	misfit := a.misfitTo(*b) - a.riseTo(*b)
	before, after := 0.0, 0.0
	if shareBefore > 0 {
		before = min(spreadM, a.lengthM())
	}
	if shareAfter > 0 {
		after = min(spreadM, b.lengthM())
	}
	if limit := max(freeMisfitM, maxMisfitGradient*(before+after)); math.Abs(misfit) > limit {
		return &misjoin{height: true, limit: limit, actual: math.Abs(misfit)}
	}
	if math.Abs(misfit) >= saidMisfitM {
		l.note(i, "parts-elevation-spread", "one part ends %.1f m %s than the next one starts; the difference is spread over %.0f m before and %.0f m after",
			math.Abs(misfit), lowerOrHigher(misfit), before, after)
	}
	share := before / (before + after)
	up := float64(misfit * share)
	*a = a.raised(0, up, before)
	*b = b.raised(up-misfit, 0, after)
	return nil
}

// riseTo returns by how many metres the road should rise over the gap to the next
// strip: at the mean gradient of the two ends.
func (r strip) riseTo(next strip) float64 {
	const reach = 50.0
	gap := r.gapTo(next)
	if r.z == nil || next.z == nil || gap <= cutTolerance {
		return 0
	}
	before, after := min(reach, r.lengthM()), min(reach, next.lengthM())
	tail := interpolateAll(r.s, r.z, []float64{r.lengthM() - before, r.lengthM()})
	head := interpolateAll(next.s, next.z, []float64{0, after})
	rise := gap * ((tail[1]-tail[0])/before + (head[1]-head[0])/after) / 2
	if math.IsNaN(rise) {
		return 0
	}
	return rise
}

// lowerOrHigher names an end that lies a misfit in metres below the next start.
func lowerOrHigher(misfit float64) string {
	if misfit > 0 {
		return "lower"
	}
	return "higher"
}

// overlap returns where the strip has to end so as not to run past the start of the
// next one: before its end if the next one starts behind it, in the same direction.
func (r strip) overlap(next strip) float64 {
	length := r.lengthM()
	if r.pos == nil || next.pos == nil || length < minLoopM {
		return length
	}
	end, start, way := r.pos[r.last()], next.pos[0], r.wayOut()
	past := end.Sub(start).Dot(way)
	if past < leastOverlapM || way.Dot(next.wayIn()) < sameDirection {
		return length
	}
	at, d := r.nearest(start, max(length/2, length-maxOverlapM), length)
	if d > min(toleranceM, geodesy.Chord(end, start)/2) {
		return length
	}
	return at
}

// append lays a strip after the others. Ends that lie apart are joined straight.
func (l *layout) append(next strip) {
	if l.s == nil {
		l.strip = next.copied()
		l.starts = []float64{0}
		return
	}
	gap := l.gapTo(next)
	first := 0 // of the next strip's nodes
	if gap <= cutTolerance {
		gap, first = 0, 1
	}
	start := l.lengthM() + gap
	l.starts = append(l.starts, start)
	for _, x := range next.s[first:] {
		l.s = append(l.s, start+x)
	}
	if l.z != nil {
		if last := len(l.z) - 1; first == 1 && math.IsNaN(l.z[last]) {
			l.z[last] = next.z[0]
		}
		l.z = append(l.z, next.z[first:]...)
	}
	if l.pos != nil {
		l.pos = append(l.pos, next.pos[first:]...)
		l.turn(next.turning, gap)
	}
}

// turn appends the directions of the strip whose nodes were laid last, and of the
// gap in front of it.
func (r *strip) turn(next []float64, gap float64) {
	last := r.turning[len(r.turning)-1]
	ahead := last + math.Remainder(next[0]-last, 360)
	if gap > 0 {
		across := (last + ahead) / 2
		if gap > curvatureReachM { // a shorter one points anywhere
			i := len(r.turning)
			across = last + math.Remainder(geodesy.Bearing(r.pos[i], r.pos[i+1])-last, 360)
			ahead = across + math.Remainder(next[0]-across, 360)
		}
		r.turning = append(r.turning, across)
	}
	for _, h := range next {
		r.turning = append(r.turning, h+ahead-next[0])
	}
}

// places returns where a position on a piece was laid, in order.
func (l *layout) places(piece int, at float64) []float64 {
	var places []float64
	for i, k := range l.of {
		st := l.stretches[k]
		if st.piece != piece {
			continue
		}
		if x, ok := st.local(at); ok && x <= l.strips[i].lengthM()+cutTolerance {
			places = append(places, l.starts[i]+min(max(x, 0), l.strips[i].lengthM()))
		}
	}
	return places
}

// moved returns the warnings about a piece that concern what was laid of it, at their
// first places there.
func (l *layout) moved(piece int, warnings []Warning) []Warning {
	var moved []Warning
	for _, w := range warnings {
		if !math.IsNaN(w.AtM) {
			places := l.places(piece, w.AtM)
			if places == nil {
				continue
			}
			w.AtM = places[0]
		}
		moved = append(moved, w)
	}
	return moved
}

// movedMarks returns the marks about a piece, those by distance at their first place
// in what was laid, without those that were not laid.
func (l *layout) movedMarks(piece int, marks []track.Mark) []track.Mark {
	var moved []track.Mark
	for _, m := range marks {
		if byDistance(m) {
			places := l.places(piece, m.AtM)
			if places == nil {
				continue
			}
			m.AtM = places[0]
		}
		moved = append(moved, m)
	}
	return moved
}
