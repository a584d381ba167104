package hindsight

import (
	"math"

	"parcours.example/analysis/ride"
)

// tell fills in the parts, of the whole and of the spans.
func (a *Account) tell(c Case, r *reading, links []link) {
	times := make([]float64, len(links))
	for i, l := range links {
		times[i] = l.ride.TimeS
	}
	a.Parts = partsOf(links, times, a.MovingS, a.RiddenS-a.MovingS)
	for i, s := range c.Spans {
		split := Split{Span: s, PredictedPowerW: math.NaN(), RiddenPowerW: math.NaN()}
		from := s.StartM
		if s.StartM == s.EndM {
			from = 0
		}
		for k, l := range links {
			times[k] = l.ride.Splits[i].TimeS
			if from != s.StartM {
				times[k] = l.ride.Splits[i].ClockS
			}
		}
		split.PredictedS = times[0]
		split.RiddenS = r.clockS(s.EndM) - r.clockS(from)
		stood := r.stoodS(from, s.EndM)
		split.Parts = partsOf(links, times, split.RiddenS-stood, stood)
		if moving := split.RiddenS - stood; r.hasPower && moving > 0 {
			split.RiddenPowerW = (r.workJ(s.EndM) - r.workJ(from)) / moving
			split.PredictedPowerW = powerOver(a.Predicted, from, s.EndM)
		}
		a.Splits = append(a.Splits, split)
	}
}

// partsOf are the differences along the chain, and from its end to the time ridden.
func partsOf(links []link, times []float64, moving, stood float64) Parts {
	p := Parts{StopsS: stood}
	for i := 1; i < len(links); i++ {
		gain := times[i] - times[i-1]
		switch links[i].part {
		case startPart:
			p.StartS = gain
		case powerPart:
			p.PowerS = gain
		case pacingPart:
			p.PacingS = gain
		case dragPart:
			p.DragS = gain
		case rollingPart:
			p.RollingS = gain
		case shelterPart:
			p.ShelterS = gain
		case nothing:
		}
	}
	p.RestS = moving - times[len(times)-1]
	return p
}

// powerOver is the time-mean of a simulated ride's power between two places.
func powerOver(r *ride.Ride, from, to float64) float64 {
	t := r.Trace
	work, time := 0.0, 0.0
	for i := range len(t.TimeS) - 1 {
		lo, hi := max(t.DistanceM[i], from), min(t.DistanceM[i+1], to)
		if length := t.DistanceM[i+1] - t.DistanceM[i]; hi > lo && length > 0 {
			dt := (t.TimeS[i+1] - t.TimeS[i]) * (hi - lo) / length
			work += float64(t.PowerW[i] * dt)
			time += dt
		}
	}
	return work / time
}

// balanceOf is the balance of W′ along the recorded power; nil where the capability isn't
// known.
func balanceOf(rider ride.Rider, r *reading) *Balance {
	reserve, ok := ride.NewReserve(rider)
	if !ok {
		return nil
	}
	b := &Balance{MinJ: math.Inf(1)}
	for _, p := range r.points {
		b.TimeS = append(b.TimeS, p.TimeS-r.points[0].TimeS)
		b.AtM = append(b.AtM, p.AtM)
	}
	b.J = reserve.Balances(b.TimeS, r.powerW)
	for i, j := range b.J {
		if j < b.MinJ {
			b.MinJ, b.MinAtM = j, b.AtM[i]
		}
	}
	b.EndJ = b.J[len(b.J)-1]
	return b
}
