package engine

import (
	"context"
	"errors"
	"sync"

	"parcours.example/analysis/race"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/tally"
)

// raceAll races on a worker that is held, with the help of the free ones.
func (e *Engine) raceAll(ctx context.Context, s *scenario) (*Scenario, error) {
	if err := s.prepare(); err != nil {
		return nil, err
	}
	if err := s.checkSize(e.limits); err != nil {
		return nil, err
	}
	s.alone = make([]alone, len(s.field))
	err := e.each(ctx, len(s.field), func(ctx context.Context, i int) (err error) {
		s.alone[i], err = s.rideAlone(ctx, i)
		return err
	})
	if err != nil {
		return nil, err
	}
	for _, a := range s.alone {
		e.countPlan(a.planned)
	}
	if err := s.checkWorkAlone(e.limits); err != nil {
		return nil, err
	}
	raced, err := race.New(s.road, s.entrants(), s.lines.atM, s.raceRules())
	if err != nil {
		return nil, s.placedRace(err)
	}
	counted, err := e.runAll(ctx, s, raced)
	if err != nil {
		return nil, err
	}
	return s.tell(ctx, raced, counted.Result())
}

// prepare lays the road and all that stands on it.
func (s *scenario) prepare() error {
	m := matrix{course: s.course, from: s.from, to: s.to, conditions: s.asked.Conditions, surfaces: s.asked.Surfaces}
	var err error
	if s.road, err = m.road(); err != nil {
		return m.placed(err, 0, "")
	}
	if err := s.contend(); err != nil {
		return err
	}
	s.told = make([][]race.Order, len(s.field))
	for i := range s.field {
		if s.told[i], err = s.orders(i); err != nil {
			return err
		}
	}
	s.lay()
	s.duellists, err = s.match()
	return err
}

// checkSize holds the answer's size, and the rides alone, against their limits.
func (s *scenario) checkSize(l Limits) error {
	if n := len(s.lines.told) * len(s.field); n > l.RiderLines {
		return tooMany("#/riders", "riders at lines", l.RiderLines, n)
	}
	return s.checkAlone(l)
}

// raceRules returns the rules as a race has them.
func (s *scenario) raceRules() race.Rules {
	r := s.rules
	return race.Rules{
		StepS: r.StepS, Alone: r.Alone, Abreast: r.Abreast, Echelons: r.Echelons, Lines: s.contested(), Seed: uint64(r.Seed),
		FormPct: r.FormPct, LaunchS: r.LaunchS, MishapsPerH: r.MishapsPerH, MishapS: r.MishapS, VaryOrders: r.VaryOrders,
	}
}

// placedRace returns an error of a race with its place on the course.
func (s *scenario) placedRace(err error) error {
	var at *ride.Error
	if errors.As(err, &at) {
		return shiftError(at, s.from)
	}
	return err
}

// batchRuns is how many runs a worker takes at a time.
const batchRuns = 8

// lane is what a worker needs to run a race and count it.
type lane struct {
	run   race.Run
	tally *tally.Tally
}

// lanes are those that wait for a worker.
type lanes struct {
	sync.Mutex
	plan     tally.Plan
	waiting  []*lane
	done, of int
	progress func(done, of int)
}

// take returns a lane that nobody is on.
func (l *lanes) take() (*lane, error) {
	l.Lock()
	defer l.Unlock()
	if n := len(l.waiting); n > 0 {
		free := l.waiting[n-1]
		l.waiting = l.waiting[:n-1]
		return free, nil
	}
	counting, err := tally.New(l.plan)
	return &lane{tally: counting}, err
}

// leave gives a lane back after some runs and tells how many are done in all.
func (l *lanes) leave(free *lane, runs int) {
	l.Lock()
	defer l.Unlock()
	l.waiting = append(l.waiting, free)
	l.done += runs
	if l.progress != nil {
		l.progress(l.done, l.of)
	}
}

// runAll runs a race as often as the rules say. What the runs come to doesn't depend on
// how they are divided among tallies.
func (e *Engine) runAll(ctx context.Context, s *scenario, raced *race.Race) (*tally.Tally, error) {
	runs := s.rules.Runs
	on := &lanes{plan: s.tallyPlan(), of: runs, progress: s.asked.Progress}
	total, err := on.take()
	if err != nil {
		return nil, err
	}
	on.leave(total, 0)
	err = e.each(ctx, (runs+batchRuns-1)/batchRuns, func(ctx context.Context, batch int) error {
		mine, err := on.take()
		if err != nil {
			return err
		}
		first := batch * batchRuns
		last := min(first+batchRuns, runs)
		for run := first; run < last; run++ {
			if err := raced.Ride(ctx, run, &mine.run); err != nil {
				return err
			}
			mine.tally.Add(run, &mine.run)
		}
		on.leave(mine, last-first)
		return nil
	})
	if err != nil {
		return nil, err
	}
	for _, l := range on.waiting {
		if l != total {
			total.tally.Merge(l.tally)
		}
	}
	return total.tally, nil
}

// tallyPlan says what is counted.
func (s *scenario) tallyPlan() tally.Plan {
	p := tally.Plan{
		Entrants: len(s.field), Teams: s.teamOf, Finish: len(s.lines.atM) - 1, Posts: s.lines.posts, Contests: s.scored(),
	}
	for _, l := range s.lines.told {
		p.Lines = append(p.Lines, l.line)
	}
	for _, c := range s.lines.climbs {
		p.Climbs = append(p.Climbs, c.Climb)
	}
	return p
}
