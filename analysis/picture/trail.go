package picture

import (
	"math"
	"sort"

	"parcours.example/analysis/ride"
)

// reading is a value at a position along the course in metres.
type reading struct{ m, value float64 }

// trail reads a trace in columns of a pixel, so that a drawing is no larger than it can
// show. Positions count from the ride's start.
type trail struct {
	ride.Trace
	// workJ and speedM are the work, and the speed integrated over the distance, up to each
	// sample.
	workJ, speedM []float64
	columnM       float64
}

func newTrail(t ride.Trace, columnM float64) *trail {
	n := len(t.DistanceM)
	r := &trail{Trace: t, columnM: columnM, workJ: make([]float64, n), speedM: make([]float64, n)}
	for i := 1; i < n; i++ {
		if len(t.PowerW) > 0 {
			r.workJ[i] = r.workJ[i-1] + float64(t.PowerW[i-1]*(t.TimeS[i]-t.TimeS[i-1]))
		}
		r.speedM[i] = r.speedM[i-1] + float64((t.SpeedMps[i-1]+t.SpeedMps[i])/2*(t.DistanceM[i]-t.DistanceM[i-1]))
	}
	return r
}

// endM is how far the ride leads.
func (r *trail) endM() float64 { return r.DistanceM[len(r.DistanceM)-1] }

// at returns the sample before a position, and which share of the way to the next it is.
func (r *trail) at(m float64) (i int, share float64) {
	i = min(max(sort.SearchFloat64s(r.DistanceM, m)-1, 0), len(r.DistanceM)-2)
	return i, min(max((m-r.DistanceM[i])/(r.DistanceM[i+1]-r.DistanceM[i]), 0), 1)
}

// between reads a list of values at the samples at a position.
func (r *trail) between(values []float64, m float64) float64 {
	i, f := r.at(m)
	return values[i] + float64(f*(values[i+1]-values[i]))
}

// timeAt is the time of a ride at a position from its start on.
func timeAt(t ride.Trace, m float64) float64 { return (&trail{Trace: t}).between(t.TimeS, m) }

// speedUpTo is the speed integrated over the distance up to a position; the speed itself
// is taken to change evenly between samples.
func (r *trail) speedUpTo(m float64) float64 {
	i, f := r.at(m)
	dx := r.DistanceM[i+1] - r.DistanceM[i]
	return r.speedM[i] + float64(float64(f*dx)*(r.SpeedMps[i]+float64(f/2*(r.SpeedMps[i+1]-r.SpeedMps[i]))))
}

// edges are the positions at the columns' edges, and where the ride ends: two at least.
func (r *trail) edges() []float64 {
	m := []float64{0}
	for k := 1.0; float64(k*r.columnM) < r.endM()-float64(r.columnM/1000); k++ {
		m = append(m, float64(k*r.columnM))
	}
	return append(m, r.endM())
}

// speeds are the means over a column around each edge, in m/s.
func (r *trail) speeds() (all []reading) {
	half := float64(r.columnM / 2)
	for _, m := range r.edges() {
		from, to := max(m-half, 0), min(m+half, r.endM())
		all = append(all, reading{m, (r.speedUpTo(to) - r.speedUpTo(from)) / (to - from)})
	}
	return all
}

// powers are the means over each column, in W, each at both of its edges: power goes in
// steps. Nil where they aren't known.
func (r *trail) powers() (all []reading) {
	if len(r.PowerW) == 0 {
		return nil
	}
	edges := r.edges()
	for i := 1; i < len(edges); i++ {
		from, to := edges[i-1], edges[i]
		took := r.between(r.TimeS, to) - r.between(r.TimeS, from)
		p := (r.between(r.workJ, to) - r.between(r.workJ, from)) / took
		all = append(all, reading{from, p}, reading{to, p})
	}
	return all
}

// balances are those of W′ at each edge and where it is lowest, in J; nil where they
// aren't known.
func (r *trail) balances() (all []reading) {
	if len(r.WBalanceJ) == 0 || math.IsNaN(r.WBalanceJ[0]) {
		return nil
	}
	low := 0
	for i, j := range r.WBalanceJ {
		if j < r.WBalanceJ[low] {
			low = i
		}
	}
	lowM := r.DistanceM[low]
	for _, m := range r.edges() {
		if n := len(all); n > 0 && all[n-1].m < lowM && lowM < m {
			all = append(all, reading{lowM, r.WBalanceJ[low]})
		}
		all = append(all, reading{m, r.between(r.WBalanceJ, m)})
	}
	return all
}
