package course

import (
	"math"
	"slices"

	"parcours.example/analysis/geodesy"
)

// strip is a stretch of conditioned road on its way to a course: its nodes and,
// between them, pieces with their direction. Its axis starts at 0. A strip shares
// its slices with others and is never changed in place.
type strip struct {
	s []float64
	// z is NaN where the elevation is not known, nil where it is nowhere.
	z []float64
	// pos and turning are nil without positions.
	pos     []geodesy.Vec
	turning []float64
}

// strip returns the whole of a course.
func (c *Course) strip() strip { return strip{s: c.S, z: c.Z, pos: c.Pos, turning: c.turning} }

func (r strip) lengthM() float64 { return r.s[len(r.s)-1] }

func (r strip) last() int { return len(r.s) - 1 }

// cut returns the stretch between two positions in metres, 0 ≤ from < to ≤ length.
func (r strip) cut(from, to float64) strip {
	at := nodesBetween(r.s, from, to)
	cut := strip{s: make([]float64, len(at))}
	for i, x := range at {
		cut.s[i] = x - from
	}
	if r.z != nil {
		cut.z = interpolateAll(r.s, r.z, at)
	}
	if r.pos != nil {
		cut.pos = positionsAt(r.s, r.pos, at)
		cut.turning = make([]float64, len(at)-1)
		for i := range cut.turning {
			cut.turning[i] = r.turning[pieceAt(r.s, (at[i]+at[i+1])/2)]
		}
	}
	return cut
}

// copied returns a strip of its own.
func (r strip) copied() strip {
	return strip{s: slices.Clone(r.s), z: slices.Clone(r.z), pos: slices.Clone(r.pos), turning: slices.Clone(r.turning)}
}

// reversed returns the strip ridden the other way.
func (r strip) reversed() strip {
	back := r.copied()
	length := r.lengthM()
	for i, x := range r.s {
		back.s[len(r.s)-1-i] = length - x
	}
	slices.Reverse(back.z)
	slices.Reverse(back.pos)
	slices.Reverse(back.turning)
	for i := range back.turning {
		back.turning[i] += 180
	}
	return back
}

// raised returns the strip with its elevation raised by a number of metres at its
// start and at its end, each less and less over a distance in metres. That is at
// most the strip's length, so that the other end stays.
func (r strip) raised(atStart, atEnd, over float64) strip {
	if r.z == nil || atStart == 0 && atEnd == 0 {
		return r
	}
	length := r.lengthM()
	over = min(over, length)
	z := slices.Clone(r.z)
	for i, x := range r.s {
		z[i] += float64(atStart*max(0, 1-x/over)) + float64(atEnd*max(0, 1-(length-x)/over))
	}
	r.z = z
	return r
}

// bent returns the strip with its start and its end moved, and what follows less and
// less over a distance in metres, at most the strip's length.
func (r strip) bent(start, end geodesy.Vec, over float64) strip {
	if start == (geodesy.Vec{}) && end == (geodesy.Vec{}) {
		return r
	}
	length := r.lengthM()
	over = min(over, length)
	s, pos, turning := slices.Clone(r.s), slices.Clone(r.pos), slices.Clone(r.turning)
	for i, x := range r.s {
		move := start.Scale(max(0, 1-x/over)).Add(end.Scale(max(0, 1-(length-x)/over)))
		if move != (geodesy.Vec{}) {
			pos[i] = onSurface(r.pos[i].Add(move), r.pos[i])
		}
		if i > 0 {
			longer, turned := change(r.pos[i-1:i+1], pos[i-1:i+1])
			s[i] = s[i-1] + float64((r.s[i]-r.s[i-1])*longer)
			turning[i-1] += turned
		}
	}
	r.s, r.pos, r.turning = s, pos, turning
	return r
}

// change returns by what factor a piece became longer and by how many degrees it was
// turned.
func change(was, is []geodesy.Vec) (longer, turned float64) {
	if was[0] == is[0] && was[1] == is[1] {
		return 1, 0
	}
	before, after := geodesy.Chord(was[0], was[1]), geodesy.Chord(is[0], is[1])
	if before == 0 || after == 0 {
		return 1, 0
	}
	return after / before, math.Remainder(geodesy.Bearing(is[0], is[1])-geodesy.Bearing(was[0], was[1]), 360)
}

// gapTo returns how far apart in metres the end of the strip and the start of the
// next one are; 0 without positions.
func (r strip) gapTo(next strip) float64 {
	if r.pos == nil || next.pos == nil {
		return 0
	}
	return geodesy.Distance(r.pos[r.last()], next.pos[0])
}

// misfitTo returns by how many metres the next strip starts higher than this one
// ends; 0 where either is not known.
func (r strip) misfitTo(next strip) float64 {
	if r.z == nil || next.z == nil {
		return 0
	}
	misfit := next.z[0] - r.z[r.last()]
	if math.IsNaN(misfit) {
		return 0
	}
	return misfit
}

// nearest returns the position in metres between two bounds at which the strip comes
// nearest to a place, and its distance from it.
func (r strip) nearest(p geodesy.Vec, from, to float64) (at, dist float64) {
	dist = math.Inf(1)
	for i := pieceAt(r.s, from); i < r.last() && r.s[i] < to; i++ {
		piece := r.pos[i+1].Sub(r.pos[i])
		f := min(max(p.Sub(r.pos[i]).Dot(piece)/piece.Dot(piece), 0), 1)
		if d := geodesy.Chord(p, r.pos[i].Lerp(r.pos[i+1], f)); d < dist {
			at, dist = r.s[i]+float64(f*(r.s[i+1]-r.s[i])), d
		}
	}
	return min(max(at, from), to), dist
}

// endReachM is the length in metres over which a strip's direction at an end is taken.
const endReachM = 20.0

// wayIn and wayOut return the unit vectors along the strip at its start and its end.
func (r strip) wayIn() geodesy.Vec {
	i := 1
	for i < r.last() && r.s[i] < endReachM {
		i++
	}
	return unit(r.pos[i].Sub(r.pos[0]))
}

func (r strip) wayOut() geodesy.Vec {
	i := r.last() - 1
	for i > 0 && r.lengthM()-r.s[i] < endReachM {
		i--
	}
	return unit(r.pos[r.last()].Sub(r.pos[i]))
}

// unit returns the vector of length 1 in the direction of v, v itself at 0.
func unit(v geodesy.Vec) geodesy.Vec {
	if norm := v.Norm(); norm > 0 {
		return v.Scale(1 / norm)
	}
	return v
}
