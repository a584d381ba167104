package coursegen

import (
	"math"
	"slices"
)

// point is a place in the plane, in metres to the east and north of its origin, with
// its elevation in metres.
type point struct{ E, N, Z float64 }

func (p point) to(q point) float64 { return math.Hypot(q.E-p.E, q.N-p.N) }

func (p point) lerp(q point, f float64) point {
	return point{p.E + float64(f*(q.E-p.E)), p.N + float64(f*(q.N-p.N)), p.Z + float64(f*(q.Z-p.Z))}
}

// path is a road in the plane: points stepM apart, as nearly as its length allows.
type path []point

func (p path) lengthM() float64 {
	sum := 0.0
	for i := 1; i < len(p); i++ {
		sum += p[i-1].to(p[i])
	}
	return sum
}

// even returns the path with its points at equal steps of about stepM along it.
func (p path) even() path {
	total := p.lengthM()
	n := max(1, int(math.Round(total/stepM)))
	out := make(path, 0, n+1)
	i, before := 1, 0.0
	for k := range n {
		at := total * float64(k) / float64(n)
		for i < len(p)-1 && before+p[i-1].to(p[i]) < at {
			before += p[i-1].to(p[i])
			i++
		}
		f := 0.0
		if d := p[i-1].to(p[i]); d > 0 {
			f = min((at-before)/d, 1)
		}
		out = append(out, p[i-1].lerp(p[i], f))
	}
	return append(out, p[len(p)-1])
}

// scaled returns the path blown up about the origin to a length in metres.
func (p path) scaled(lengthM float64) path {
	f := lengthM / p.lengthM()
	out := make(path, len(p))
	for i, q := range p {
		out[i] = point{f * q.E, f * q.N, q.Z}
	}
	return out.even()
}

// moved returns the path turned about the origin by an angle in radians,
// counter-clockwise, and then shifted.
func (p path) moved(turn float64, by point) path {
	sin, cos := math.Sincos(turn)
	out := make(path, len(p))
	for i, q := range p {
		out[i] = point{float64(cos*q.E) - float64(sin*q.N) + by.E, float64(sin*q.E) + float64(cos*q.N) + by.N, q.Z + by.Z}
	}
	return out
}

// reversed returns the path travelled the other way.
func (p path) reversed() path {
	out := make(path, len(p))
	for i, q := range p {
		out[len(p)-1-i] = q
	}
	return out
}

// from returns a closed path started at its node k instead.
func (p path) from(k int) path {
	n := len(p) - 1 // the last node is the first
	out := make(path, 0, len(p))
	for i := range n + 1 {
		out = append(out, p[(k+i)%n])
	}
	return out
}

// repeated returns a path travelled n times, a closed one where n is above 1.
func (p path) repeated(n int) path {
	return join(slices.Repeat([]path{p}, n)...)
}

// join strings paths together, each starting where the last ended.
func join(paths ...path) path {
	var out path
	for _, p := range paths {
		if len(out) > 0 && len(p) > 0 {
			p = p[1:]
		}
		out = append(out, p...)
	}
	return out
}

// curve samples n+1 points of a function over [0, 1].
func curve(n int, f func(t float64) point) path {
	out := make(path, n+1)
	for i := range out {
		out[i] = f(float64(i) / float64(n))
	}
	return out
}

// spline is the Catmull–Rom curve through points, ending at the first and the last;
// where these coincide it closes smoothly.
func spline(through ...point) path {
	at := func(i int) point {
		last := len(through) - 1
		closed := through[0] == through[last]
		switch {
		case i < 0 && closed:
			return through[last-1]
		case i > last && closed:
			return through[1]
		}
		return through[min(max(i, 0), last)]
	}
	var out path
	for i := range len(through) - 1 {
		a, b, c, d := at(i-1), at(i), at(i+1), at(i+2)
		n := max(8, int(b.to(c)/5))
		out = join(out, curve(n, func(t float64) point {
			return point{E: catmullRom(a.E, b.E, c.E, d.E, t), N: catmullRom(a.N, b.N, c.N, d.N, t)}
		}))
	}
	return out.even()
}

// catmullRom is the cubic from b to c with the slopes (c−a)/2 and (d−b)/2 at its
// ends.
func catmullRom(a, b, c, d, t float64) float64 {
	return b + float64(t*((c-a)/2+float64(t*(a-2.5*b+2*c-d/2+float64(t*(1.5*(b-c)+(d-a)/2))))))
}

// pen draws roads of straights and bends.
type pen struct {
	path path
	// heading is the direction of travel in radians, counter-clockwise from east.
	heading float64
}

func newPen(at point, headingDeg float64) *pen {
	return &pen{path: path{at}, heading: headingDeg * math.Pi / 180}
}

// straight goes on for a length in metres.
func (p *pen) straight(lengthM float64) *pen { return p.bend(lengthM, 0) }

// bend goes on for a length in metres while turning by an angle in degrees,
// positive to the left.
func (p *pen) bend(lengthM, turnDeg float64) *pen {
	n := max(1, int(math.Round(lengthM/stepM)))
	step, turn := lengthM/float64(n), turnDeg*math.Pi/180/float64(n)
	for range n {
		sin, cos := math.Sincos(p.heading + turn/2)
		last := p.path[len(p.path)-1]
		p.path = append(p.path, point{E: last.E + float64(step*cos), N: last.N + float64(step*sin)})
		p.heading += turn
	}
	return p
}
