package terrain

import "sort"

// profile is an elevation z over a distance s, linear between nodes.
type profile struct{ s, z []float64 }

func (p profile) startM() float64  { return p.s[0] }
func (p profile) endM() float64    { return p.s[len(p.s)-1] }
func (p profile) lengthM() float64 { return p.endM() - p.startM() }

// pieceAt returns the piece that holds x, clamped to the profile.
func (p profile) pieceAt(x float64) int {
	i := sort.Search(len(p.s), func(i int) bool { return p.s[i] > x }) - 1
	return min(max(i, 0), len(p.s)-2)
}

// on returns the elevation at x, which lies on piece i.
func (p profile) on(i int, x float64) float64 {
	f := (x - p.s[i]) / (p.s[i+1] - p.s[i])
	return p.z[i] + float64(f*(p.z[i+1]-p.z[i]))
}

// at returns the elevation at x.
func (p profile) at(x float64) float64 { return p.on(p.pieceAt(x), x) }

// gradient returns rise over run between two places.
func (p profile) gradient(from, to float64) float64 {
	return (p.at(to) - p.at(from)) / (to - from)
}

// cut returns the profile between two places within it.
func (p profile) cut(from, to float64) profile {
	// The nodes strictly between.
	i := sort.Search(len(p.s), func(i int) bool { return p.s[i] > from })
	j := sort.Search(len(p.s), func(i int) bool { return p.s[i] >= to })
	j = max(i, j)
	c := profile{s: make([]float64, 0, j-i+2), z: make([]float64, 0, j-i+2)}
	c.s = append(append(append(c.s, from), p.s[i:j]...), to)
	c.z = append(append(append(c.z, p.at(from)), p.z[i:j]...), p.at(to))
	return c
}

// upsideDown returns the profile with its hills as valleys.
func (p profile) upsideDown() profile {
	z := make([]float64, len(p.z))
	for i := range z {
		z[i] = -p.z[i]
	}
	return profile{s: p.s, z: z}
}

// span is a stretch of the course in metres along it.
type span struct{ start, end float64 }

func (a span) length() float64 { return a.end - a.start }

// overlap returns the length that two spans have in common.
func (a span) overlap(b span) float64 {
	return max(0, min(a.end, b.end)-max(a.start, b.start))
}

// within reports whether nearly all of a lies in b.
func (a span) within(b span) bool { return a.overlap(b) >= sameGround*a.length() }

// same reports whether two spans are the same stretch up to the slack.
func (a span) same(b span) bool {
	if a.overlap(b) >= sameGround*max(a.length(), b.length()) {
		return true
	}
	return a.overlap(b) > 0 && abs(a.start-b.start) <= boundsSlackM && abs(a.end-b.end) <= boundsSlackM
}

func abs(x float64) float64 { return max(x, -x) }
