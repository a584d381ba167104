package terrain

import (
	"context"
	"math/rand/v2"

	"pgregory.net/rapid"

	"parcours.example/analysis/course"
)

// ramp is a length of road at one gradient.
type ramp struct{ lengthM, pct float64 }

// ramps returns the polyline through the ends of the ramps, from an elevation.
func ramps(from float64, of ...ramp) profile {
	p := profile{s: []float64{0}, z: []float64{from}}
	for _, r := range of {
		i := len(p.s) - 1
		p.s = append(p.s, p.s[i]+r.lengthM)
		p.z = append(p.z, p.z[i]+r.lengthM*r.pct/100)
	}
	return p
}

// every returns the profile sampled at a spacing, with its exact end.
func (p profile) every(spacing float64) profile {
	var q profile
	for x := 0.0; x < p.endM()-1e-9; x += spacing {
		q.s, q.z = append(q.s, x), append(q.z, p.at(x))
	}
	return profile{append(q.s, p.endM()), append(q.z, p.at(p.endM()))}
}

// course makes the profile a course of one part.
func (p profile) course() *course.Course {
	c := &course.Course{S: p.s, Z: p.z}
	addUp(c)
	c.Parts = []course.Part{{
		Kind: course.Whole, EndM: c.LengthM(),
		AscentM: c.AscentM(0, c.LengthM()), DescentM: c.DescentM(0, c.LengthM()),
	}}
	return c
}

// addUp sums the rises and falls of a course's elevations, all of them.
func addUp(c *course.Course) {
	c.AscentTo, c.DescentTo = make([]float64, len(c.Z)), make([]float64, len(c.Z))
	for i := 1; i < len(c.Z); i++ {
		dz := c.Z[i] - c.Z[i-1]
		c.AscentTo[i], c.DescentTo[i] = c.AscentTo[i-1]+max(0, dz), c.DescentTo[i-1]+max(0, -dz)
	}
}

// laps repeats the profile, which must close, and makes it a course of laps.
func (p profile) laps(n int) *course.Course {
	q := profile{s: p.s, z: p.z}
	for k := 1; k < n; k++ {
		for i := 1; i < len(p.s); i++ {
			q.s = append(q.s, float64(k)*p.lengthM()+p.s[i])
			q.z = append(q.z, p.z[i])
		}
	}
	c := q.course()
	c.Laps = course.Laps{Count: n, Source: course.LapsDeclared, LengthM: p.lengthM(), AscentM: c.AscentM(0, p.lengthM()), Agreement: 1}
	c.Shape = course.Lapped
	c.Parts = nil
	for k := range n {
		from, to := float64(k)*p.lengthM(), float64(k+1)*p.lengthM()
		c.Parts = append(c.Parts, course.Part{
			Kind: course.Lap, Lap: k + 1, StartM: from, EndM: to,
			AscentM: c.AscentM(from, to), DescentM: c.DescentM(from, to),
		})
	}
	return c
}

// anyProfile draws a noise-free road of uneven pieces between −15 % and 15 %.
func anyProfile(t *rapid.T) profile {
	n := rapid.IntRange(1, 40).Draw(t, "pieces")
	rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	var of []ramp
	for range n {
		of = append(of, ramp{20 + 600*rng.Float64(), 12 * rng.NormFloat64() / 2})
	}
	return ramps(100, of...)
}

// hills is a long rolling road with the nodes of a conditioned course.
func hills(nodes int) profile {
	rng := rand.New(rand.NewPCG(7, 7))
	var of []ramp
	for length := 0.0; length < 10*float64(nodes); {
		r := ramp{100 + 1500*rng.Float64(), 4 * rng.NormFloat64()}
		of = append(of, r)
		length += r.lengthM
	}
	p := ramps(200, of...).every(10)
	return profile{p.s[:nodes], p.z[:nodes]}
}

// dissect returns the terrain of a course that is waited for.
func dissect(c *course.Course) *Terrain {
	t, err := Analyse(context.Background(), c)
	if err != nil {
		panic(err) // the context has no end
	}
	return t
}
