package engine

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"parcours.example/analysis/aid"
	"parcours.example/analysis/ride"
)

// defaultFollowerGapM is the gap between the wheels of two riders who ride close.
const defaultFollowerGapM = 0.3

// otherPowers are the factors on the asked power at which the best places are tried again.
var otherPowers = [...]float64{0.9, 1.1}

// findAids computes what is told of aids.
func (e *Engine) findAids(ctx context.Context, s *aidsScene) (*Aids, error) {
	road, err := s.road()
	if err != nil {
		return nil, s.placed(err, 0, "")
	}
	a := &Aids{
		Course: s.course, StartM: s.from, EndM: s.to, At: s.at, Aids: s.aids, Lines: s.lines,
		Items: make([]AidsItem, len(s.riders)*len(s.setups)), Model: aid.Model(),
		places: placesOf(s.course, road, s.from, s.to),
	}
	if err := s.checkMass(road); err != nil {
		return nil, err
	}
	w := way{road: road, spans: append(spansOf(s.course, s.from, s.to), s.at)}
	w.splits = s.splits(w.spans)
	if err := e.checkAidsAnswer(s, road, len(w.spans)); err != nil {
		return nil, err
	}
	var all assumed
	all.note(0, 0, road.Assumptions)
	s.assumeGap(&all)
	bikes := make([][]ride.Assumption, len(a.Items))
	err = e.each(ctx, len(a.Items), func(ctx context.Context, i int) error {
		a.Items[i], bikes[i] = s.item(ctx, w, i)
		return ctx.Err()
	})
	if err != nil {
		return nil, err
	}
	for i, item := range a.Items {
		all.note(item.RiderIndex, item.SetupIndex, bikes[i])
	}
	a.Assumptions = all.list
	a.Recommendation = a.recommend(len(s.setups) > 1, s.gapM)
	return a, nil
}

// checkAidsAnswer holds what rides and aids go over against its limits.
func (e *Engine) checkAidsAnswer(s *aidsScene, road *ride.Road, spans int) error {
	untraced := s.matrix
	untraced.traces = false // they are dropped ride by ride
	told := len(s.riders)*len(s.setups) + len(s.aids)
	return e.checkAnswer(untraced, road, &Predictions{Items: make([]Prediction, told), Spans: make([]Span, spans)})
}

// assumeGap fills in the gap to a follower, where an aid denies shelter.
func (s *aidsScene) assumeGap(all *assumed) {
	if !math.IsNaN(s.gapM) {
		return
	}
	s.gapM = defaultFollowerGapM
	for i := range s.aids {
		if s.aids[i].Denies() {
			all.list = append(all.list, Assumption{Pointer: "#/follower_gap_m", Value: s.gapM, Unit: "m", Source: "common practice of riders who hold a wheel"})
			return
		}
	}
}

// leastMassKg is the least mass that an aid may leave of rider, set-up and load.
const leastMassKg = 20

// checkMass refuses aids that leave less than that.
func (s *aidsScene) checkMass(road *ride.Road) error {
	for i := range s.aids {
		for k, r := range s.riders {
			for _, setup := range s.setups {
				bike, err := ride.NewBike(r, setup, road.Conditions)
				if left := bike.MassKg + s.aids[i].MassChangeKg; err == nil && left < leastMassKg {
					return &Error{Code: CodeNotComputable, Pointer: fmt.Sprintf("#/aids/%d/mass_change_kg", i), Detail: fmt.Sprintf(
						"Of %.1f kg, the mass of rider %d with set-up and load, the aid leaves %.1f kg; at least %d kg must be left.", bike.MassKg, k+1, left, leastMassKg)}
				}
			}
		}
	}
	return nil
}

// item finds where the i-th rider and set-up gain most, and returns the defaults that were
// used for them.
func (s *aidsScene) item(ctx context.Context, w way, i int) (AidsItem, []ride.Assumption) {
	p := s.predict(ctx, w, i)
	item := AidsItem{RiderIndex: p.RiderIndex, SetupIndex: p.SetupIndex, Rider: p.Rider, Setup: p.Setup, Err: p.Err}
	if p.Err != nil {
		return item, nil
	}
	scene := &aid.Scene{Road: w.road, Ride: p.Ride, LineM: s.at.EndM - s.from, GapM: s.gapM}
	if s.at.EndM > s.at.StartM {
		scene.FromM = s.at.StartM - s.from
	}
	at := p.Ride.Splits[len(p.Ride.Splits)-1]
	item.TimeS = at.ClockS
	if scene.FromM > 0 {
		item.TimeS = at.TimeS
	}
	for k := range s.aids {
		found, err := s.findAid(ctx, scene, k)
		if err != nil && ctx.Err() == nil {
			found = AidFound{Err: s.placed(err, item.RiderIndex, "")}
		}
		item.Aids = append(item.Aids, found)
	}
	if item.Err = s.vary(ctx, w, scene, &item); item.Err != nil {
		return item, nil
	}
	if joint, err := s.together(ctx, scene, item.Aids); !halts(err) {
		item.Joint, item.Err = joint, err
	}
	return item, p.Ride.Bike.Assumptions
}

// findAid finds where one aid gains most.
func (s *aidsScene) findAid(ctx context.Context, scene *aid.Scene, k int) (AidFound, error) {
	a := &s.aids[k].Aid.Aid
	out := AidFound{FirstS: clockAt(scene.Ride, a.FirstM())}
	var err error
	if out.Found, err = aid.Find(ctx, scene, a); err != nil {
		return out, err
	}
	out.Sprints = make([]*aid.Sprint, len(s.lines))
	for i, line := range s.lines {
		sprint, within, err := aid.AtLine(ctx, scene, a, line.EndM-s.from)
		if err != nil {
			return out, err
		}
		if within {
			out.Sprints[i] = &sprint
		}
	}
	return out, nil
}

// clockAt is the clock of a ride at a position, between its samples.
func clockAt(r *ride.Ride, atM float64) float64 {
	t := &r.Trace
	i := sort.SearchFloat64s(t.DistanceM, atM)
	if i == 0 || i == len(t.DistanceM) {
		return t.TimeS[min(i, len(t.TimeS)-1)]
	}
	share := (atM - t.DistanceM[i-1]) / (t.DistanceM[i] - t.DistanceM[i-1])
	return t.TimeS[i-1] + float64(share*(t.TimeS[i]-t.TimeS[i-1]))
}

// vary tries the best places again at other powers. A power at which the rider comes to a
// halt is left out.
func (s *aidsScene) vary(ctx context.Context, w way, scene *aid.Scene, item *AidsItem) error {
	for _, factor := range otherPowers {
		effort := scene.Ride.Asked()
		steps := make([]ride.Step, len(effort.Steps))
		for i, step := range effort.Steps {
			steps[i] = ride.Step{EndM: step.EndM, PowerW: step.PowerW * factor}
		}
		effort.Steps = steps
		other, err := ride.Simulate(ctx, w.road, s.riders[item.RiderIndex], s.setups[item.SetupIndex], effort, w.splits)
		if halts(err) {
			continue
		}
		if err != nil {
			return err
		}
		at := *scene
		at.Ride = other
		for k := range item.Aids {
			found := &item.Aids[k]
			if found.Found == nil || len(found.Best) == 0 {
				continue
			}
			best, gainS, err := aid.BestOf(ctx, &at, &s.aids[k].Aid.Aid, found.Best)
			if halts(err) {
				continue
			}
			if err != nil {
				return err
			}
			found.Others = append(found.Others, aid.Other{PowerPct: math.Round(100 * (factor - 1)), Best: best, GainS: gainS})
		}
	}
	return nil
}

// halts reports whether an error is that of a rider who comes to a halt.
func halts(err error) bool {
	var halt *ride.Error
	return errors.As(err, &halt) && halt.Code == ride.CodeCannotClimb
}

// together finds the best joint use; nil where an aid brings the rider to a halt.
func (s *aidsScene) together(ctx context.Context, scene *aid.Scene, of []AidFound) (*aid.Joint, error) {
	if slices.ContainsFunc(of, func(f AidFound) bool { return f.Found == nil }) {
		return nil, nil
	}
	aids, found := make([]aid.Aid, len(of)), make([]*aid.Found, len(of))
	for k := range of {
		aids[k], found[k] = s.aids[k].Aid.Aid, of[k].Found
	}
	return aid.Together(ctx, scene, aids, found)
}
