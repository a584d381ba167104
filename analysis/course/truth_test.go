package course

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
)

// The truth bounds: analytic profiles, sampled and spoiled in the ways of recorded
// files, must come back within stated errors on 99 % of the seeds.

// profile is a piecewise linear or analytic z(s) of a given length.
type profile struct {
	name   string
	length float64
	z      func(s float64) float64
}

// spoil is a way to sample and spoil a profile.
type spoil struct {
	name      string
	white     float64 // standard deviation in m
	round     float64 // step in m
	drift     float64 // amplitude in m of a slow wave
	spikes    int
	dip       bool
	window    float64 // for the gradient's RMSE, m
	share     float64 // of the ascent
	rmsePct   float64
	maxWindow bool // the 50 m maximum counts as well
}

var spoils = []spoil{
	{name: "clean", window: 50, share: 0.02, rmsePct: 0.5, maxWindow: true},
	{name: "white 0.1", white: 0.1, window: 50, share: 0.02, rmsePct: 0.5, maxWindow: true},
	{name: "white 0.3", white: 0.3, window: 100, share: 0.02, rmsePct: 0.5},
	{name: "white 1", white: 1, window: 250, share: 0.03, rmsePct: 0.5},
	{name: "rounded 0.1", round: 0.1, window: 50, share: 0.02, rmsePct: 0.5, maxWindow: true},
	{name: "rounded 1", round: 1, window: 100, share: 0.02, rmsePct: 0.5},
	{name: "white 0.3 rounded 1", white: 0.3, round: 1, window: 100, share: 0.03, rmsePct: 0.5},
	{name: "drift", white: 0.1, drift: 2, window: 100, share: 0.03, rmsePct: 0.5},
	{name: "spikes", white: 0.1, spikes: 5, window: 50, share: 0.02, rmsePct: 0.5, maxWindow: true},
	{name: "dip", white: 0.1, dip: true, window: 100, share: 0.02, rmsePct: 0.5},
}

// pieces returns the profile of stretches (length in m, gradient in %), repeated to
// at least a length.
func pieces(name string, z0, least float64, stretches ...[2]float64) profile {
	var s, z []float64
	s, z = append(s, 0), append(z, z0)
	for i := 0; s[len(s)-1] < least; i++ {
		p := stretches[i%len(stretches)]
		s = append(s, s[len(s)-1]+p[0])
		z = append(z, z[len(z)-1]+p[0]*p[1]/100)
	}
	return profile{name, s[len(s)-1], func(at float64) float64 { return interpolateAll(s, z, []float64{at})[0] }}
}

func profiles(r *rand.Rand) []profile {
	sines := func(s float64) float64 {
		return 300 + 20*math.Sin(2*math.Pi*s/1000)
	}
	a, b, c := r.Float64(), r.Float64(), r.Float64()
	hills := func(s float64) float64 {
		return 300 + 40*math.Sin(2*math.Pi*(s/3100+a)) + 12*math.Sin(2*math.Pi*(s/900+b)) + 4*math.Sin(2*math.Pi*(s/410+c))
	}
	var ramps [][2]float64
	for range 40 {
		ramps = append(ramps, [2]float64{100 + 700*r.Float64(), -10 + 20*r.Float64()})
	}
	return []profile{
		{"sine", 10000, sines},
		{"hills", 12000, hills},
		pieces("ramps", 800, 15000, ramps...),
		pieces("plateaus", 100, 12000, [2]float64{1500, 0}, [2]float64{800, 5}, [2]float64{1500, 0}, [2]float64{800, -5}),
		pieces("stairs", 100, 8000, [2]float64{200, 8}, [2]float64{200, 0}, [2]float64{200, 8}, [2]float64{200, 0}, [2]float64{400, -8}),
		pieces("pitch", 200, 4000, [2]float64{2000 + 10*r.Float64(), 6}, [2]float64{40, 16}, [2]float64{2000, 6}),
		pieces("finishing climb", 200, 6000, [2]float64{2000, 0}, [2]float64{900, 4.5}, [2]float64{120, 17}, [2]float64{500, 5},
			[2]float64{80, 19}, [2]float64{700, 5.5}, [2]float64{100, 18}, [2]float64{600, 5}, [2]float64{2000, -5}),
		pieces("flat", 80, 10000, [2]float64{10000, 0.1}),
	}
}

// sample returns distances and spoiled elevations of a profile at about a spacing.
func (p profile) sample(r *rand.Rand, spacing float64, n spoil) (s, z []float64, hole [2]float64) {
	for at := 0.0; at < p.length; at += spacing * (0.8 + 0.4*r.Float64()) {
		s = append(s, at)
	}
	if p.length-s[len(s)-1] < 1 {
		s = s[:len(s)-1]
	}
	s = append(s, p.length)
	phase := r.Float64()
	for _, at := range s {
		slow := n.drift * math.Sin(2*math.Pi*(at/11000+phase))
		v := p.z(at) + slow + n.white*r.NormFloat64()
		z = append(z, v)
	}
	if n.dip {
		from := p.length * (0.2 + 0.5*r.Float64())
		hole = [2]float64{from, from + 300}
		for i, at := range s {
			if at >= from && at < from+300 {
				z[i] -= 30
			}
		}
	}
	for range n.spikes {
		z[1+r.IntN(len(z)-2)] += (15 + 60*r.Float64()) * float64(1-2*r.IntN(2))
	}
	if n.round > 0 {
		for i := range z {
			z[i] = math.Round(z[i]/n.round) * n.round
		}
	}
	return s, z, hole
}

// errors of one conditioned profile against its truth.
type errors struct {
	rmsePct, max50Pct, ascentM, ascentShare, summitM, sigma float64
}

func (p profile) compare(c *Course, n spoil, hole [2]float64) errors {
	var e errors
	var sum, count, got, want float64
	for at := 0.0; at+n.window <= p.length; at += 10 {
		if at+n.window > hole[0]-50 && at < hole[1]+50 && n.dip {
			continue
		}
		g := (c.ElevationAt(at+n.window) - c.ElevationAt(at)) / n.window
		w := (p.z(at+n.window) - p.z(at)) / n.window
		sum += (g - w) * (g - w)
		count++
	}
	got, want = -1, -1
	for at := 0.0; at+50 <= p.length; at += 2.5 {
		got = max(got, (c.ElevationAt(at+50)-c.ElevationAt(at))/50)
		want = max(want, (p.z(at+50)-p.z(at))/50)
	}
	e.rmsePct, e.max50Pct = 100*math.Sqrt(sum/count), 100*math.Abs(got-want)
	fine := make([]float64, int(p.length)+1)
	for i := range fine {
		fine[i] = p.z(float64(i))
	}
	up, _ := cumulativeAscent(fine, 1)
	e.ascentM = math.Abs(c.AscentTo[len(c.S)-1] - up[len(up)-1])
	e.ascentShare = e.ascentM / max(up[len(up)-1], 1e-9)
	e.sigma = c.Quality.ElevationNoiseM
	e.summitM = math.Abs(highest(c.S, c.Z) - highestOf(fine))
	return e
}

func highest(s, z []float64) float64 {
	best := 0
	for i := range z {
		if z[i] > z[best] {
			best = i
		}
	}
	return s[best]
}

func highestOf(z []float64) float64 {
	best := 0
	for i := range z {
		if z[i] > z[best] {
			best = i
		}
	}
	return float64(best)
}

func (e errors) within(n spoil) bool {
	return e.rmsePct <= n.rmsePct && (!n.maxWindow || e.max50Pct <= 1) &&
		(e.ascentM <= 5 || e.ascentShare <= n.share)
}

func TestTruthBounds(t *testing.T) {
	seeds, base := 5, uint64(1)
	if os.Getenv("PARCOURS_FULL") != "" {
		seeds = 100
	}
	if v, err := strconv.Atoi(os.Getenv("PARCOURS_SEEDS")); err == nil {
		seeds = v
	}
	for _, n := range spoils {
		for _, spacing := range []float64{3, 6, 10, 16, 25} {
			for k := range profiles(rand.New(rand.NewPCG(1, 1))) {
				var worst, mean errors
				bad, name := 0, ""
				for seed := range seeds {
					r := rand.New(rand.NewPCG(base, uint64(seed)))
					p := profiles(r)[k]
					name = p.name
					s, z, hole := p.sample(r, spacing, n)
					c, err := FromProfile(s, z, Defaults())
					if err != nil {
						t.Fatal(err)
					}
					e := p.compare(c, n, hole)
					if !e.within(n) {
						bad++
					}
					worst.rmsePct, worst.max50Pct = max(worst.rmsePct, e.rmsePct), max(worst.max50Pct, e.max50Pct)
					worst.ascentM, worst.ascentShare = max(worst.ascentM, e.ascentM), max(worst.ascentShare, e.ascentShare)
					mean.rmsePct += e.rmsePct / float64(seeds)
					mean.sigma += e.sigma / float64(seeds)
					worst.summitM = max(worst.summitM, e.summitM)
				}
				flag := ""
				if bad > 0 {
					flag = fmt.Sprintf("BAD %d/%d", bad, seeds)
				}
				t.Logf("%-20s %-16s %3.0f m  rmse %.2f (max %.2f)  max50 %.2f  ascent %.1f m %.1f %%  summit %.0f  σ %.3f %s", n.name, name, spacing,
					mean.rmsePct, worst.rmsePct, worst.max50Pct, worst.ascentM, 100*worst.ascentShare, worst.summitM, mean.sigma, flag)
			}
		}
	}
}
