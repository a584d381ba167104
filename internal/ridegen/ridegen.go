// Package ridegen makes of a simulated ride what a device on the bicycle would have
// recorded of it, with the errors of its sensors, and writes that as files. Tests alone
// import it.
package ridegen

import (
	"math"
	"math/rand/v2"
	"sort"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/track"
)

// Noise is how wrong a device's sensors are. The zero value is a perfect device.
type Noise struct {
	// PositionM is the root mean square of the horizontal error in metres, correlated
	// over 60 s; WhiteM is the σ in metres, in either axis, of an error new at each sample.
	PositionM, WhiteM float64
	// ElevationM is the σ in metres of an elevation error new at each sample.
	ElevationM float64
	// SpeedMPS is the σ in m/s of the error of the speed from the wheel.
	SpeedMPS float64
	// DistanceShare is by how much the count of distance runs ahead, as a share.
	DistanceShare float64
	// PowerShare is the σ of the error of power, as a share of it.
	PowerShare float64
}

// Ordinary is the noise of a good device under an open sky.
func Ordinary() Noise {
	return Noise{PositionM: 2.5, WhiteM: 0.3, ElevationM: 0.2, SpeedMPS: 0.05, DistanceShare: 0.003, PowerShare: 0.02}
}

// StartUnixS is when recordings start: 2024-05-04 10:00 UTC, in seconds since 1970.
const StartUnixS = 1714816800.0

// rollOnS is how long a device goes on after the finish in seconds, rollOnW the power in W
// that keeps the speed there.
const (
	rollOnS = 20
	rollOnW = 200
)

// Samples records a ride over a course at 1 Hz, from its start to some seconds after its
// finish, beyond which the rider rolls straight on. The truth is where the rider was at
// each sample, in metres on the course's axis.
func Samples(c *course.Course, r *ride.Ride, noise Noise, seed uint64) (samples []track.Sample, truthM []float64) {
	rng := rand.New(rand.NewPCG(seed, 0x7269646567656e))
	g := recorder{c: c, t: &r.Trace, noise: noise, rng: rng, workJ: work(&r.Trace)}
	g.east, g.north = rng.NormFloat64()*noise.PositionM/math.Sqrt2, rng.NormFloat64()*noise.PositionM/math.Sqrt2
	for second := 0.0; second <= math.Ceil(r.TimeS)+rollOnS; second++ {
		s, at := g.sample(second)
		s.ClockS = StartUnixS + second
		s.Begins = second == 0
		samples, truthM = append(samples, s), append(truthM, at)
	}
	return samples, truthM
}

// work is the rider's work up to each sample of a trace.
func work(t *ride.Trace) []float64 {
	sum := make([]float64, len(t.TimeS))
	for i := 1; i < len(sum); i++ {
		sum[i] = sum[i-1] + t.PowerW[i-1]*(t.TimeS[i]-t.TimeS[i-1])
	}
	return sum
}

// recorder is a device on its way.
type recorder struct {
	c     *course.Course
	t     *ride.Trace
	noise Noise
	rng   *rand.Rand
	workJ []float64

	east, north float64 // the slow error of positions
	lastM       float64 // the place of the sample before
	roadM       float64 // ridden so far
	lastJ       float64
	lastS       float64
}

// sample measures at a time of the ride.
func (g *recorder) sample(timeS float64) (track.Sample, float64) {
	t := g.t
	i := min(max(sort.SearchFloat64s(t.TimeS, timeS)-1, 0), len(t.TimeS)-2)
	dt := t.TimeS[i+1] - t.TimeS[i]
	f := min(max((timeS-t.TimeS[i])/dt, 0), 1)
	v0, v1 := t.SpeedMps[i], t.SpeedMps[i+1]
	share := f
	if v0+v1 > 0 { // at an even acceleration
		share = f * (2*v0 + (v1-v0)*f) / (v0 + v1)
	}
	at := t.DistanceM[i] + (t.DistanceM[i+1]-t.DistanceM[i])*share
	workJ := g.workJ[i] + (g.workJ[i+1]-g.workJ[i])*f
	if beyondS := timeS - t.TimeS[len(t.TimeS)-1]; beyondS > 0 {
		at += v1 * beyondS
		workJ += rollOnW * beyondS
	}
	power := t.PowerW[0]
	if timeS > g.lastS {
		power = (workJ - g.lastJ) / (timeS - g.lastS)
	}
	slope := g.c.Gradient(g.c.PieceAt(at))
	g.roadM += (at - g.lastM) * math.Sqrt(1+slope*slope)
	g.lastM, g.lastJ, g.lastS = at, workJ, timeS
	return track.Sample{
		Pos:        g.position(at),
		ElevationM: g.c.ElevationAt(at) + g.rng.NormFloat64()*g.noise.ElevationM,
		DistanceM:  g.roadM * (1 + g.noise.DistanceShare),
		SpeedMPS:   max(v0+(v1-v0)*f+g.rng.NormFloat64()*g.noise.SpeedMPS, 0),
		PowerW:     math.Round(max(power*(1+g.rng.NormFloat64()*g.noise.PowerShare), 0)),
		CadenceRPM: math.Round(85 * min(power, 1)),
	}, at
}

// position is where the device believes to be at a place of the course.
func (g *recorder) position(at float64) geodesy.Vec {
	if !g.c.HasPositions() {
		return geodesy.Vec{}
	}
	const memory = 1 - 1/60.0 // of a second
	fresh := g.noise.PositionM / math.Sqrt2 * math.Sqrt(1-memory*memory)
	g.east = g.east*memory + g.rng.NormFloat64()*fresh
	g.north = g.north*memory + g.rng.NormFloat64()*fresh
	road := On(g.c, at)
	frame := geodesy.FrameAt(road)
	lat, lon := road.Add(frame.East.Scale(g.east + g.rng.NormFloat64()*g.noise.WhiteM)).
		Add(frame.North.Scale(g.north + g.rng.NormFloat64()*g.noise.WhiteM)).Degrees()
	return geodesy.FromDegrees(lat, lon)
}

// On returns the position at a place of a course, of one beyond its end straight on from
// there.
func On(c *course.Course, at float64) geodesy.Vec {
	if beyondM := at - c.LengthM(); beyondM > 0 {
		a, b := c.Pos[len(c.Pos)-2], c.Pos[len(c.Pos)-1]
		return b.Add(b.Sub(a).Scale(beyondM / geodesy.Chord(a, b)))
	}
	i := c.PieceAt(at)
	f := (at - c.S[i]) / (c.S[i+1] - c.S[i])
	return c.Pos[i].Lerp(c.Pos[i+1], min(max(f, 0), 1))
}
