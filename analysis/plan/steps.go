package plan

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"

	"parcours.example/analysis/ride"
)

// HeldStep is a stretch on which a rider holds one power.
type HeldStep struct {
	// StartM and EndM are on the road's axis.
	StartM, EndM float64
	// PowerW is whole, unless one power is held from start to end.
	PowerW float64
	// Place is what of the course the step is on, with bounds of its own; Of says in
	// words how the step lies to it: "first 400 m of climb-1, lap 2".
	Place Place
	Of    string
	// Reason says in words why this power is held here.
	Reason string
}

// Held is a plan that a rider can follow: at most a dozen steps in each part of the
// course.
type Held struct {
	// Steps follow each other without gap and cover the road.
	Steps []HeldStep
	// Powers are what is asked of the rider: the steps, or where changes of power are
	// bounded the ramps that lead from each step to the next and start where it does.
	Powers []ride.Step
	// Ride is how Powers are ridden, by the one motion model. The limits hold without the
	// ramps too.
	Ride *ride.Ride
}

// Hold turns a plan into steps. Places are in any order; those that are parts are cut
// into steps one by one, laps that are ridden alike all in the same way and with the same
// powers. The ride keeps to the same limits as the plan and is never slower than its
// constant power. The spans become its splits. Errors are the context's and those of
// Optimise.
func Hold(ctx context.Context, road *ride.Road, rider ride.Rider, setup ride.Setup, limits Limits, p *Plan, places []Place, spans []ride.Span) (*Held, error) {
	t, err := newTask(road, rider, setup, limits)
	if err != nil {
		return nil, err
	}
	h := &holding{task: t, spans: spans, least: max(0, orZero(limits.MinPowerW)), most: t.highest()}
	found, err := h.held(ctx, p, places)
	if err != nil {
		return nil, err
	}
	if found == nil || found.ride.TimeS > p.Constant.TimeS {
		found, err = h.evenly(ctx, p)
		if err != nil {
			return nil, err
		}
	}
	return &Held{Steps: h.told(found, p, places), Powers: found.given, Ride: found.ride}, nil
}

func orZero(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return x
}

// held cuts the plan and finds the powers; nil where nothing within the limits is found.
func (h *holding) held(ctx context.Context, p *Plan, places []Place) (*tried, error) {
	l := h.loss(p)
	var best *tried
	var of holding
	for _, l := range []*loss{l, l.evenly()} {
		found, err := h.heldBy(ctx, l, p, places)
		if err != nil {
			return nil, err
		}
		if found != nil && (best == nil || found.ride.TimeS < best.ride.TimeS) {
			best, of = found, *h
		}
	}
	if best == nil {
		return nil, nil
	}
	*h = of
	return h.rested(ctx, best)
}

// unusedW is the mean power ridden in a step below which its power has no effect.
const unusedW = 1.0

// rested asks for no power in steps that are too fast to pedal.
func (h *holding) rested(ctx context.Context, t *tried) (*tried, error) {
	work, time := make([]float64, len(t.powersW)), make([]float64, len(t.powersW))
	from := stateAt(&t.ride.Trace, 0)
	for i, end := range h.endsM {
		to := stateAt(&t.ride.Trace, end)
		work[h.of[i]] += to.workJ - from.workJ
		time[h.of[i]] += to.timeS - from.timeS
		from = to
	}
	powersW := slices.Clone(t.powersW)
	for k := range powersW {
		if work[k] < unusedW*time[k] {
			powersW[k] = min(powersW[k], math.Ceil(h.least))
		}
	}
	if slices.Equal(powersW, t.powersW) {
		return t, nil
	}
	next, err := h.try(ctx, powersW)
	if err != nil || next == nil || next.roomJ < 0 || next.ride.TimeS > t.ride.TimeS {
		return t, err
	}
	return next, nil
}

// heldBy cuts the plan where that loses least by one measure, and finds the powers.
func (h *holding) heldBy(ctx context.Context, l *loss, p *Plan, places []Place) (*tried, error) {
	h.endsM, h.of = nil, nil
	var powersW []float64
	h.groups = l.groups(sections(places, h.road.LengthM()))
	for _, g := range h.groups {
		edges := l.edges(g)
		at := l.bestCut(edges)
		first := len(powersW)
		for k := 1; k < len(at); k++ {
			powersW = append(powersW, h.alikeW(p, g, edges[at[k-1]], edges[at[k]]))
		}
		for _, lap := range g {
			for k := 1; k < len(at); k++ {
				h.endsM = append(h.endsM, lap.edgeM(edges[at[k]]))
				h.of = append(h.of, first+k-1)
			}
		}
	}
	h.endsM[len(h.endsM)-1] = h.road.LengthM()
	found, err := h.search(ctx, powersW)
	if err != nil || found == nil {
		return nil, err
	}
	return h.rounded(ctx, h.withFinish(found))
}

// alikeW is the power that takes as much of the balance as the plan does between two
// edges, on the mean of a group's laps.
func (h *holding) alikeW(p *Plan, g group, from, to edge) float64 {
	sum, time := 0.0, 0.0
	for _, lap := range g {
		i, j := stateAt(&p.Ride.Trace, lap.edgeM(from)), stateAt(&p.Ride.Trace, lap.edgeM(to))
		sum += float64((j.timeS - i.timeS) * h.alikeOnce(i, j))
		time += j.timeS - i.timeS
	}
	return min(max(sum/time, h.least), h.most)
}

// state is where a ride is at a position; workJ counts from the start.
type state struct{ timeS, balanceJ, workJ float64 }

// stateAt interpolates between the samples of a trace.
func stateAt(tr *ride.Trace, atM float64) state {
	j := min(max(sort.SearchFloat64s(tr.DistanceM, atM), 1), len(tr.DistanceM)-1)
	i := j - 1
	share := min((atM-tr.DistanceM[i])/(tr.DistanceM[j]-tr.DistanceM[i]), 1)
	s := state{timeS: tr.TimeS[i] + float64(share*(tr.TimeS[j]-tr.TimeS[i]))}
	if tr.WBalanceJ != nil {
		s.balanceJ = tr.WBalanceJ[i] + float64(share*(tr.WBalanceJ[j]-tr.WBalanceJ[i]))
	}
	for n := range i {
		s.workJ += float64(tr.PowerW[n] * (tr.TimeS[n+1] - tr.TimeS[n]))
	}
	s.workJ += float64(tr.PowerW[i] * (s.timeS - tr.TimeS[i]))
	return s
}

// alikeOnce is alikeW for one lap, between two states.
func (h *holding) alikeOnce(from, to state) float64 {
	dt, critical := to.timeS-from.timeS, h.capacity.CriticalPowerW
	switch {
	case !math.IsNaN(h.limits.MeanPowerW):
		return (to.workJ - from.workJ) / dt
	case to.balanceJ <= from.balanceJ:
		return critical + (from.balanceJ-to.balanceJ)/dt
	}
	low, high := 0.0, critical
	for range 40 {
		if mid := (low + high) / 2; h.capacity.After(from.balanceJ, mid, dt) >= to.balanceJ {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// evenly holds the constant power.
func (h *holding) evenly(ctx context.Context, p *Plan) (*tried, error) {
	h.groups, h.endsM, h.of = nil, []float64{h.road.LengthM()}, []int{0}
	return h.try(ctx, []float64{p.ConstantPowerW})
}

// told joins steps of one power, and puts them in words.
func (h *holding) told(found *tried, p *Plan, places []Place) []HeldStep {
	joined := h.joined(found)
	e := h.explain(&tried{asked: joined, ride: found.ride}, p)
	steps := make([]HeldStep, len(joined))
	from := 0.0
	for i, s := range joined {
		place, words := locate(places, from, s.EndM)
		_, reason := e.reasonOf(i)
		steps[i] = HeldStep{StartM: from, EndM: s.EndM, PowerW: s.PowerW, Place: place, Of: words, Reason: reason + h.alike(from)}
		from = s.EndM
	}
	return steps
}

// joined are the steps of a try without those that go on at the power of the one before
// in the same part.
func (h *holding) joined(found *tried) []ride.Step {
	var steps []ride.Step
	from := 0.0
	for _, s := range found.asked {
		if n := len(steps); n > 0 && steps[n-1].PowerW == s.PowerW && !h.begins(from) {
			steps[n-1].EndM = s.EndM
		} else {
			steps = append(steps, s)
		}
		from = s.EndM
	}
	return steps
}

// begins reports whether a part begins at a position.
func (h *holding) begins(atM float64) bool {
	for _, g := range h.groups {
		for _, s := range g {
			if s.StartM == atM {
				return true
			}
		}
	}
	return false
}

// alike says, where a lap begins that is ridden in a way of its own, which laps are.
func (h *holding) alike(atM float64) string {
	for _, g := range h.groups {
		first, last := g[0], g[len(g)-1]
		switch {
		case first.StartM != atM || first.Kind != kindLap || len(h.groups) == 1:
		case len(g) > 1:
			return fmt.Sprintf("; laps %d to %d are ridden alike", first.Lap, last.Lap)
		default:
			return fmt.Sprintf("; lap %d has powers of its own", first.Lap)
		}
	}
	return ""
}
