package engine

import (
	"context"
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/launch"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/wording"
)

// launchFault says which part of the request excludes its launches; nil for none.
func launchFault(r LaunchRequest) error {
	fault := func(pointer, format string, args ...any) error {
		return &Error{Code: CodeNotComputable, Pointer: pointer, Detail: fmt.Sprintf(format, args...)}
	}
	switch c := r.Conditions; {
	case !math.IsNaN(c.Shelter):
		return fault("#/conditions/shelter", "The shelter until the launch is a line's own; give it as shelter or position in lines.")
	case !math.IsNaN(c.StartSpeedMps):
		return fault("#/conditions/start_speed_mps", "A sprint starts from its approach; give approach_speed_mps in lines.")
	case !math.IsNaN(c.CoastAboveMps):
		return fault("#/conditions/coast_above_mps", "Nobody freewheels in a sprint; leave coast_above_mps out.")
	}
	for i, rider := range r.Riders {
		at := func(field string) string { return fmt.Sprintf("#/riders/%d/%s", i, field) }
		switch {
		case math.IsNaN(rider.CriticalPowerW):
			return fault(at("critical_power_w"), "A sprint needs the rider's critical_power_w and w_prime_j; rider %d has no critical_power_w.", i+1)
		case math.IsNaN(rider.WPrimeJ):
			return fault(at("w_prime_j"), "A sprint needs the rider's critical_power_w and w_prime_j; rider %d has no w_prime_j.", i+1)
		case rider.MaxPowerW < rider.CriticalPowerW:
			return fault(at("max_power_w"), "The maximal power of %v W is below the critical power of %v W.", rider.MaxPowerW, rider.CriticalPowerW)
		case rider.RecoveryLaw == ride.Integral2012:
			return fault(at("recovery_law"), "The law integral_2012 needs the whole ride before it tells any of it; choose proportional or bartram_2018.")
		}
	}
	for i, line := range r.Lines {
		at := fmt.Sprintf("#/lines/%d/w_balances_j", i)
		if line.BalancesJ != nil && len(line.BalancesJ) != len(r.Riders) {
			return fault(at, "There are %d balances of W′ for %d riders; give one for each.", len(line.BalancesJ), len(r.Riders))
		}
		for k, balance := range line.BalancesJ {
			if balance > r.Riders[k].WPrimeJ {
				return fault(fmt.Sprintf("%s/%d", at, k), "The balance of %v J is more than W′ of rider %d, %v J.", balance, k+1, r.Riders[k].WPrimeJ)
			}
		}
	}
	return nil
}

// line adds the items of a line: its passes, those with the same approach together.
func (l *launching) line(ctx context.Context, index int, line LaunchLine) error {
	at := fmt.Sprintf("#/lines/%d", index)
	spans, err := l.passes(line, at)
	if err != nil {
		return err
	}
	if l.launches += len(spans) * len(l.bikes); l.launches > l.most {
		return tooMany("#/lines", "launches, passes of lines times riders times set-ups", l.most, l.launches)
	}
	line = l.completed(index, line)
	for _, passes := range l.grouped(line, spans) {
		a, err := l.paced(ctx, line, passes[0])
		if err != nil {
			return err
		}
		for i := range l.riders {
			for k := range l.setups {
				l.items = append(l.items, Launch{
					LineIndex: index, RiderIndex: i, SetupIndex: k, Rider: l.riders[i].Name, Setup: l.setups[k].Name,
					Passes: passes, Approach: a, BalanceJ: line.BalancesJ[i],
				})
			}
		}
	}
	return nil
}

// passes returns the passes of a line with road before them, each as a point: the end of a
// climb or a stretch.
func (l *launching) passes(line LaunchLine, at string) ([]Span, error) {
	spans, err := line.At.Passes(l.course, l.from, l.to, at+"/at")
	if err != nil {
		return nil, err
	}
	var kept []Span
	for _, s := range spans {
		if s.EndM >= leastApproachM {
			s.StartM = s.EndM
			kept = append(kept, s)
			continue
		}
		detail := fmt.Sprintf("There are %s of road before %s, and a sprint needs %s.", wording.ShortLength(s.EndM), s.Words(), wording.Metres(leastApproachM))
		if len(spans) == 1 {
			return nil, &Error{Code: CodeNotComputable, Pointer: at + "/at", Detail: detail}
		}
		l.warnings = append(l.warnings, LaunchWarning{Code: "no-approach", Detail: detail, Pointer: at + "/at", AtM: s.EndM})
	}
	if len(kept) == 0 {
		return nil, &Error{Code: CodeNotComputable, Pointer: at + "/at", Detail: fmt.Sprintf("No pass of the line has the %s of road before it that a sprint needs.", wording.Metres(leastApproachM))}
	}
	return kept, nil
}

// assume notes a value of a line that wasn't given.
func (l *launching) assume(index int, name string, value float64, unit, source string) {
	l.assumed.list = append(l.assumed.list, Assumption{Pointer: fmt.Sprintf("#/lines/%d/%s", index, name), Value: value, Unit: unit, Source: source})
}

// completed returns a line with its defaults.
func (l *launching) completed(index int, line LaunchLine) LaunchLine {
	if line.Position == 0 {
		line.Position = 2
		l.assume(index, "position", 2, "", "behind a lead-out")
	}
	if math.IsNaN(line.Shelter) {
		line.Shelter = launch.PlaceShelter(line.Position)
		l.assume(index, "shelter", line.Shelter, "1", "the place in a line of four or more riders (Fitton, Symons & Caddy 2018, Proc. IMechE P, doi 10.1177/1754337117692280; behind one rider Olds 1998)")
	}
	if math.IsNaN(line.ApproachM) && math.IsNaN(line.ApproachS) {
		line.ApproachS = launch.UsualS
		l.assume(index, "approach_s", line.ApproachS, "s", launch.UsualSource)
	}
	if math.IsNaN(line.SpeedMps) && math.IsNaN(line.Demand) {
		line.Demand = launch.UsualDemand
		l.assume(index, "demand", line.Demand, "1", launch.UsualSource)
	}
	if line.BalancesJ == nil {
		for i, r := range l.riders {
			line.BalancesJ = append(line.BalancesJ, r.WPrimeJ)
			l.assume(index, fmt.Sprintf("w_balances_j/%d", i), r.WPrimeJ, "J", "fresh: all of W′")
		}
	}
	return line
}

// roughM is the length in metres over which approaches are compared, and a first speed is
// looked for, where their length isn't given.
const roughM = 300.0

// rough returns the way to a line at a pass before its speed is known.
func (l *launching) rough(line LaunchLine, pass Span) launch.Approach {
	length := line.ApproachM
	if math.IsNaN(length) {
		length = roughM
	}
	return l.approach(line, pass, length)
}

// grouped returns the passes of a line, those with the same approach together.
func (l *launching) grouped(line LaunchLine, spans []Span) [][]Span {
	var groups [][]Span
	var ways []launch.Approach
	for _, span := range spans {
		a := l.rough(line, span)
		if i := slices.IndexFunc(ways, func(other launch.Approach) bool { return alike(other, a) }); i >= 0 {
			groups[i] = append(groups[i], span)
		} else {
			groups, ways = append(groups, []Span{span}), append(ways, a)
		}
	}
	return groups
}

// The length of an approach and its speed follow from each other: they are looked for up to
// mostRounds times, until the length changes by less than a share of it.
const (
	mostRounds = 6
	roundShare = 0.001
)

// paced returns the way to a line at a pass with its speed and its length.
func (l *launching) paced(ctx context.Context, line LaunchLine, pass Span) (a launch.Approach, err error) {
	a = l.rough(line, pass)
	for round := 0; ; round++ {
		if math.IsNaN(line.SpeedMps) {
			if a.SpeedMps, err = l.usualSpeed(ctx, line, a); err != nil {
				return a, err
			}
		}
		if !math.IsNaN(line.ApproachM) || round == mostRounds {
			return a, nil
		}
		next := l.approach(line, pass, min(max(a.SpeedMps*line.ApproachS, leastApproachM), mostApproachM))
		if math.Abs(next.LengthM()-a.LengthM()) < roundShare*a.LengthM() {
			return a, nil
		}
		speed := a.SpeedMps
		a = next
		a.SpeedMps = speed
	}
}

// usualSpeed returns the speed of an approach at which none of the riders loses the wheel.
func (l *launching) usualSpeed(ctx context.Context, line LaunchLine, a launch.Approach) (float64, error) {
	speed := fastestApproachMps
	for i := range l.riders {
		for k := range l.setups {
			if ctx.Err() != nil {
				return 0, ctx.Err()
			}
			speed = min(speed, a.UsualSpeed(l.sprinter(i, k, line.BalancesJ[i]), line.Demand))
		}
	}
	return max(speed, slowestApproachMps), nil
}

// mostApproachM is the longest approach that is taken, in metres.
const mostApproachM = 1000.0

// The speeds that an approach may have, in m/s.
const (
	slowestApproachMps = 3.0
	fastestApproachMps = 25.0
)

// approach returns the way to a line at a pass, as long as there is road.
func (l *launching) approach(line LaunchLine, pass Span, lengthM float64) launch.Approach {
	return launch.Approach{
		Pieces:   l.road.Stretch(max(pass.EndM-lengthM, 0), pass.EndM),
		SpeedMps: line.SpeedMps, Place: line.Position, Shelter: line.Shelter,
	}
}
