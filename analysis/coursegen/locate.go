package coursegen

import (
	"slices"

	"parcours.example/analysis/geodesy"
)

// places draws positions along the line, in order.
func (r *recorder) places(n int) []float64 {
	at := make([]float64, n)
	for i := range at {
		at[i] = between(r.rng, 0.05, 0.95) * r.line.LengthM()
	}
	slices.Sort(at)
	return at
}

// locate returns the node before a position and the fraction from it to the next.
// Positions asked for one after the other lie close together, so it walks from the
// last one.
func (r *recorder) locate(at float64) (node int, fraction float64) {
	s := r.line.S
	for r.node > 0 && s[r.node] > at {
		r.node--
	}
	for r.node < len(s)-2 && s[r.node+1] <= at {
		r.node++
	}
	f := (at - s[r.node]) / (s[r.node+1] - s[r.node])
	return r.node, min(max(f, 0), 1)
}

func (r *recorder) position(at float64) geodesy.Vec {
	i, f := r.locate(at)
	return r.line.Pos[i].Lerp(r.line.Pos[i+1], f)
}

func (r *recorder) elevation(at float64) float64 {
	i, f := r.locate(at)
	return r.line.Z[i] + float64(f*(r.line.Z[i+1]-r.line.Z[i]))
}

// shifted moves a point of the surface by metres to the east and north.
func shifted(p geodesy.Vec, east, north float64) geodesy.Vec {
	if east == 0 && north == 0 {
		return p
	}
	f := geodesy.FrameAt(p)
	return geodesy.FromDegrees(p.Add(f.East.Scale(east)).Add(f.North.Scale(north)).Degrees())
}
