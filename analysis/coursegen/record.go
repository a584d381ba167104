package coursegen

import (
	"math"
	"math/rand/v2"
	"slices"

	"parcours.example/analysis/track"
)

// Noise is how a line is recorded. The zero value records nothing: set IntervalS or
// SpacingM.
type Noise struct {
	// IntervalS is the time between points in seconds; the rider slows down uphill,
	// from about 10 m/s on the flat to 3 m/s at 8 %. Where it is 0, SpacingM is the
	// distance between points in metres.
	IntervalS, SpacingM float64
	// PositionM is the root-mean-square horizontal error in metres, correlated over
	// 60 s (an Ornstein–Uhlenbeck process in either axis, with σ = PositionM/√2).
	PositionM float64
	// WhiteM is the σ in metres, in either axis, of a position error new at each point.
	WhiteM float64
	// ElevationM is the σ in metres of an elevation error new at each point.
	ElevationM float64
	// DriftM is the σ in metres of an elevation error correlated over 20 minutes, as
	// a barometer has it.
	DriftM float64
	// RoundM rounds elevations to its multiples, in metres, where above 0.
	RoundM float64
	// PositionSpikes and ElevationSpikes are numbers of single points that are off by
	// 80 to 500 m and by 15 to 120 m.
	PositionSpikes, ElevationSpikes int
	// Duplicates is the number of points that are written twice. At each of Stops the
	// rider stands for 20 to 120 s, by time or not, while the position jitters by 2 m.
	Duplicates, Stops int
	// GapM is the length in metres of a stretch without points, near the middle.
	GapM float64
	// TunnelM is the length in metres of a stretch over which the elevation sags by
	// 20 m and comes back.
	TunnelM float64
	// StartM is how far from the line's start the recording starts, in metres.
	StartM float64
}

// Correlation times in seconds.
const (
	positionTimeS = 60.0
	driftTimeS    = 1200.0
)

// RandomNoise draws what structure must bear: sampling every 1 to 10 s, position
// errors of up to 8 m correlated over 60 s with a white part of up to 0.5 m, and up
// to 0.5 m in elevation.
func RandomNoise(seed uint64) Noise {
	rng := rand.New(rand.NewPCG(seed, 0x6e6f697365))
	return Noise{
		IntervalS:  float64(1 + rng.IntN(10)),
		PositionM:  between(rng, 0, 8),
		WhiteM:     between(rng, 0, 0.5),
		ElevationM: between(rng, 0, 0.5),
		StartM:     between(rng, 0, 10),
	}
}

// Record travels a line and returns the points as a device would have written
// them. The same seed gives the same points.
func Record(l Line, n Noise, seed uint64) []track.Point {
	r := recorder{line: l, noise: n, rng: rand.New(rand.NewPCG(seed, 0x7265636f7264))}
	r.stopsAt = r.places(n.Stops)
	r.start()
	for at := n.StartM; at < l.LengthM(); {
		next, seconds := r.next(at)
		r.step(at, seconds)
		at = next
	}
	r.step(l.LengthM(), 1)
	r.spoil()
	return r.points
}

// Recorded returns the line that points without errors describe: straight from each to
// the next, with S being the positions along l. What lies between two points, a corner
// or the tip of a turn, is not in a recording.
func Recorded(l Line, n Noise) Line {
	r := recorder{line: l, noise: n}
	var out Line
	add := func(at float64) {
		out.Pos, out.S, out.Z = append(out.Pos, r.position(at)), append(out.S, at), append(out.Z, r.elevation(at))
	}
	for at := n.StartM; at < l.LengthM(); at, _ = r.next(at) {
		add(at)
	}
	add(l.LengthM())
	return out
}

// recorder is a recording in progress.
type recorder struct {
	line    Line
	noise   Noise
	rng     *rand.Rand
	node    int // the line's node at or before where the rider is
	points  []track.Point
	stopsAt []float64
	// The correlated errors of the moment, in units of their σ.
	east, north, drift float64
}

// start draws the errors that the recording starts with.
func (r *recorder) start() {
	r.east, r.north, r.drift = r.rng.NormFloat64(), r.rng.NormFloat64(), r.rng.NormFloat64()
}

// next returns where the following point is due and the time until then.
func (r *recorder) next(at float64) (next, seconds float64) {
	v := r.speed(at)
	if r.noise.IntervalS > 0 {
		return at + float64(v*r.noise.IntervalS), r.noise.IntervalS
	}
	return at + r.noise.SpacingM, r.noise.SpacingM / v
}

// speed is a plain rule in m/s: quick downhill, slow uphill.
func (r *recorder) speed(at float64) float64 {
	from, to := r.elevation(at-15), r.elevation(at+15)
	return min(max(10-float64(90*(to-from)/30), 3), 16)
}

// step writes the point of a position along the line and lets the errors go on by a
// time in seconds.
func (r *recorder) step(at, seconds float64) {
	if mid := r.line.LengthM() / 2; math.Abs(at-mid) < r.noise.GapM/2 {
		r.age(seconds)
		return
	}
	r.write(at, r.noise.WhiteM)
	for len(r.stopsAt) > 0 && r.stopsAt[0] <= at {
		r.stopsAt = r.stopsAt[1:]
		for range 20 + r.rng.IntN(101) {
			r.age(1)
			r.write(at, 2)
		}
	}
	r.age(seconds)
}

// age lets the correlated errors go on: x(t+Δt) = x(t)·e^(−Δt/τ) + √(1 − e^(−2Δt/τ))·ξ.
func (r *recorder) age(seconds float64) {
	next := func(x, tau float64) float64 {
		keep := math.Exp(-seconds / tau)
		return float64(x*keep) + float64(math.Sqrt(1-float64(keep*keep))*r.rng.NormFloat64())
	}
	r.east, r.north = next(r.east, positionTimeS), next(r.north, positionTimeS)
	r.drift = next(r.drift, driftTimeS)
}

// write appends the point of a position along the line with its errors.
func (r *recorder) write(at, whiteM float64) {
	pos := r.position(at)
	sigma := r.noise.PositionM / math.Sqrt2
	east := float64(sigma*r.east) + float64(whiteM*r.rng.NormFloat64())
	north := float64(sigma*r.north) + float64(whiteM*r.rng.NormFloat64())
	z := r.elevation(at) + float64(r.noise.ElevationM*r.rng.NormFloat64()) + float64(r.noise.DriftM*r.drift) - r.sag(at)
	if r.noise.RoundM > 0 {
		z = math.Round(z/r.noise.RoundM) * r.noise.RoundM
	}
	r.points = append(r.points, track.Point{Pos: shifted(pos, east, north), Elevation: z})
}

// sag is the depth in metres of the tunnel's dip.
func (r *recorder) sag(at float64) float64 {
	x := (at - r.line.LengthM()/3) / max(r.noise.TunnelM, 1)
	if x < 0 || x > 1 || r.noise.TunnelM == 0 {
		return 0
	}
	sin := math.Sin(math.Pi * x)
	return 20 * sin * sin
}

// spoil adds the errors of single points.
func (r *recorder) spoil() {
	for range r.noise.PositionSpikes {
		i, turn, off := 1+r.rng.IntN(len(r.points)-2), between(r.rng, 0, 2*math.Pi), between(r.rng, 80, 500)
		r.points[i].Pos = shifted(r.points[i].Pos, off*math.Cos(turn), off*math.Sin(turn))
	}
	for range r.noise.ElevationSpikes {
		i, sign := 1+r.rng.IntN(len(r.points)-2), float64(2*r.rng.IntN(2)-1)
		r.points[i].Elevation += math.Round(sign * between(r.rng, 15, 120))
	}
	for range r.noise.Duplicates {
		i := r.rng.IntN(len(r.points))
		r.points = slices.Insert(r.points, i, r.points[i])
	}
}
