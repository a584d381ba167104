package duel

import (
	"context"
	"sort"

	"parcours.example/analysis/ride"
)

// places is the number of places along the road at which the gap is told.
const places = 200

// placeAt returns the i-th of them.
func placeAt(i int, lengthM float64) float64 { return lengthM * (float64(i) / (places - 1)) }

// cuts returns the spans whose ends need a sample of the rides.
func (q Question) cuts(lengthM float64) []ride.Span {
	spans := append([]ride.Span(nil), q.Spans...)
	if q.LastClimb != nil {
		spans = append(spans, *q.LastClimb)
	}
	for i := range places {
		at := placeAt(i, lengthM)
		spans = append(spans, ride.Span{StartM: at, EndM: at})
	}
	return spans
}

// ridden is a contestant's ride.
type ridden struct {
	Contestant
	*ride.Ride
}

// ride rides a contestant over the road.
func (d *contest) ride(ctx context.Context, c Contestant) (ridden, error) {
	r, err := ride.Simulate(ctx, d.road, c.Rider, c.Setup, ride.Effort{Kind: ride.BySteps, Steps: c.Steps}, d.spans)
	return ridden{c, r}, err
}

func (r ridden) told() Rider {
	return Rider{
		Name: r.Rider.Name, MassKg: r.Rider.MassKg, TimeS: r.TimeS, Feasible: r.Feasible,
		WPerKg: r.askedWPerKg(0, r.DistanceM),
	}
}

// clockAt returns the time in s at a position, linear between the samples of the ride.
func (r ridden) clockAt(atM float64) float64 {
	t := &r.Trace
	i := sort.SearchFloat64s(t.DistanceM, atM)
	switch {
	case i == 0:
		return t.TimeS[0]
	case i == len(t.TimeS):
		return t.TimeS[i-1]
	}
	share := (atM - t.DistanceM[i-1]) / (t.DistanceM[i] - t.DistanceM[i-1])
	return t.TimeS[i-1] + float64(share*(t.TimeS[i]-t.TimeS[i-1]))
}

// askedWPerKg returns the power asked for between two positions over body mass, averaged
// over time.
func (r ridden) askedWPerKg(fromM, toM float64) float64 {
	start, work, at := r.clockAt(fromM), 0.0, fromM
	for i, s := range r.Steps {
		end := min(s.EndM, toM)
		if i == len(r.Steps)-1 {
			end = toM
		}
		if end > at {
			work += float64(s.PowerW * (r.clockAt(end) - r.clockAt(at)))
			at = end
		}
	}
	return work / (r.clockAt(toM) - start) / r.Rider.MassKg
}

// pair is both rides over one road.
type pair struct{ heavier, lighter ridden }

func (p pair) gapAt(atM float64) float64 { return p.lighter.clockAt(atM) - p.heavier.clockAt(atM) }

func (p pair) stretch(s ride.Span) Stretch {
	heavier, lighter := p.heavier.clockAt(s.EndM), p.lighter.clockAt(s.EndM)
	return Stretch{
		Span:          s,
		HeavierS:      heavier - p.heavier.clockAt(s.StartM),
		LighterS:      lighter - p.lighter.clockAt(s.StartM),
		HeavierClockS: heavier, LighterClockS: lighter,
		StartGapS: p.gapAt(s.StartM), EndGapS: lighter - heavier,
	}
}

func (p pair) stretches(spans []ride.Span) []Stretch {
	told := make([]Stretch, len(spans))
	for i, s := range spans {
		told[i] = p.stretch(s)
	}
	return told
}

func (p pair) gaps(lengthM float64) []Gap {
	gaps := make([]Gap, places)
	for i := range gaps {
		at := placeAt(i, lengthM)
		gaps[i] = Gap{AtM: at, GapS: p.gapAt(at)}
	}
	return gaps
}

// Slope is which way a road goes.
type Slope string

// The slopes: steeper than 2 % up or down, and what lies between.
const (
	Up    Slope = "up"
	Level Slope = "level"
	Down  Slope = "down"
)

// levelBelow is the gradient up to which a road counts as level.
const levelBelow = 0.02

// Ground is all of the road that goes one way.
type Ground struct {
	Slope   Slope
	LengthM float64
	// HeavierS and LighterS are the times on it.
	HeavierS, LighterS float64
}

// GainS returns what the lighter rider gains on it in s, negative for a loss.
func (g Ground) GainS() float64 { return g.HeavierS - g.LighterS }

// ground adds up the times by slope.
func (p pair) ground(road *ride.Road) [3]Ground {
	sums := [3]Ground{{Slope: Up}, {Slope: Level}, {Slope: Down}}
	for i := range road.Pieces {
		piece := &road.Pieces[i]
		g := &sums[1]
		switch {
		case piece.Gradient > levelBelow:
			g = &sums[0]
		case piece.Gradient < -levelBelow:
			g = &sums[2]
		}
		s := p.stretch(ride.Span{StartM: piece.StartM, EndM: piece.EndM})
		g.LengthM += s.EndM - s.StartM
		g.HeavierS += s.HeavierS
		g.LighterS += s.LighterS
	}
	return sums
}
