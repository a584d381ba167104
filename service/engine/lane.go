package engine

import (
	"container/list"
	"context"
	"math"
	"sync"
	"time"

	"parcours.example/service/span"
)

// workerLane is the workers that some computations share, and the queue in front of them. Those who
// have begun go before those who come new, so that what was taken is finished before more is.
//
// A newcomer is refused at once where the queue is foreseen to last too long, so that being
// refused costs next to nothing and those who wait don't wait in vain. How long is too long
// depends on how the queue came about: a crowd that comes all at once is let in up to half of
// the longest wait, for it passes; a queue that hasn't been empty for a while comes of more
// work than there are workers, and is kept short, for a long one would only make everybody wait.
//
// Patient work comes after all others, and where the lane lets it yield, others take its workers
// as if they were free.
type workerLane struct {
	name string
	size int
	// wait is the longest that a newcomer waits.
	wait time.Duration
	// lacking says what there is too little of where somebody is refused.
	lacking string
	meter   *meter

	mu     sync.Mutex
	places map[*place]struct{}
	// hired counts workers that help computations which have a place.
	hired int
	// yields says that patient work gives its workers, which are patients of them, to whoever
	// comes.
	yields   bool
	patients int
	// begun, fresh, again and patient hold *waiter. Those who come again do a long work in many
	// turns: they are neither refused nor sent away, and called in alternation with the fresh.
	begun, fresh, again, patient list.List
	// freshLast is whether of those two it was a fresh one who was called last.
	freshLast bool
	// beside is how many workers the lane may have beside its own right now; nil for none. It is
	// called with the lane locked.
	beside func() int
	// crowdedFrom is since when somebody has been waiting.
	crowdedFrom time.Time
	// held is how long places were held in all, came how many newcomers there were, the last
	// meanOf of them above all. What those who have begun hold is work of newcomers too.
	held time.Duration
	came float64
}

const (
	// standingAfter is how long a queue is taken for a crowd that passes.
	standingAfter = time.Second
	// burstShare and standingShare are the parts of the longest wait that a queue may be
	// foreseen to last.
	burstShare, standingShare = 0.5, 0.05
	// firstMean is how much work a newcomer is supposed to bring before any came, meanOf over
	// how many the mean is taken, about.
	firstMean = 5 * time.Millisecond
	meanOf    = 32
)

// place is a worker of a lane that a computation holds.
type place struct {
	lane *workerLane
	// patient is whether it goes to whoever comes.
	patient bool
	// from is when it was taken, until when it is foreseen to be given back.
	from, until time.Time
}

// waiter waits for a place, which is sent to it.
type waiter struct {
	granted chan *place
	cost    time.Duration
}

func newLane(name string, size int, wait time.Duration, lacking string, m *meter) *workerLane {
	m.workers.WithLabelValues(name).Set(float64(size))
	return &workerLane{name: name, size: size, wait: wait, lacking: lacking, meter: m, places: map[*place]struct{}{}, held: firstMean, came: 1}
}

// yielding lets patient work of the lane give way.
func (l *workerLane) yielding() *workerLane {
	l.yields = true
	return l
}

// take waits for a place for work that is foreseen to take some time, 0 where that isn't
// known. It fails with the context's error, or with a *BusyError: for a newcomer at once, or
// once the longest wait is over.
func (l *workerLane) take(ctx context.Context, cost time.Duration, begun bool) (*place, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if patient(ctx) {
		return l.takePatiently(ctx)
	}
	if takesTurns(ctx) {
		return l.takeAgain(ctx, cost)
	}
	_, step := span.Start(ctx, "queue")
	step.Note("lane", l.name)
	defer step.End()
	start := time.Now()
	defer func() { l.meter.waits.WithLabelValues(l.name).Observe(time.Since(start).Seconds()) }()
	l.mu.Lock()
	if cost <= 0 {
		cost = l.mean()
	}
	if l.free() > 0 && l.waiting() == 0 {
		defer l.mu.Unlock()
		if !begun {
			l.count()
		}
		return l.grant(cost, false), nil
	}
	if err := l.refusal(ctx); err != nil && !begun {
		l.mu.Unlock()
		return nil, err
	}
	queue := &l.fresh
	if begun {
		queue = &l.begun
	}
	if l.crowd() == 0 {
		l.crowdedFrom = time.Now()
	}
	w := &waiter{granted: make(chan *place, 1), cost: cost}
	at := queue.PushBack(w)
	l.mu.Unlock()

	waits := l.meter.waiting.WithLabelValues(l.name)
	waits.Inc()
	defer waits.Dec()
	return l.await(ctx, queue, at, begun)
}

// await waits until a waiter is granted its place, or leaves the queue.
func (l *workerLane) await(ctx context.Context, queue *list.List, at *list.Element, begun bool) (*place, error) {
	w := at.Value.(*waiter)
	var late <-chan time.Time // never, for those who have begun
	if !begun {
		timer := time.NewTimer(l.wait)
		defer timer.Stop()
		late = timer.C
	}
	select {
	case p := <-w.granted:
		return p, nil
	case <-ctx.Done():
	case <-late:
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	select {
	case p := <-w.granted: // meanwhile
		if ctx.Err() == nil {
			return p, nil
		}
		l.giveBack(p)
	default:
		queue.Remove(at)
	}
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return nil, l.busy()
}

// refusal says why a newcomer isn't let in; nil where they are.
func (l *workerLane) refusal(ctx context.Context) error {
	foreseen := l.foreseen()
	longest := l.wait
	if deadline, ok := ctx.Deadline(); ok {
		longest = min(longest, time.Until(deadline))
	}
	short := l.fresh.Len() < l.size // keeps the workers busy
	switch {
	case foreseen > longest:
	case short, foreseen <= l.bound():
		return nil
	}
	return l.busy()
}

// wouldRefuse is refusal where a newcomer would have to wait.
func (l *workerLane) wouldRefuse(ctx context.Context) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.free() > 0 && l.waiting() == 0 {
		return nil
	}
	return l.refusal(ctx)
}

// bound is how long the queue may be foreseen to last.
func (l *workerLane) bound() time.Duration {
	share := burstShare
	if l.crowd() > 0 && time.Since(l.crowdedFrom) > standingAfter {
		share = standingShare
	}
	return time.Duration(share * float64(l.wait))
}

// foreseen is about how long a newcomer waits.
func (l *workerLane) foreseen() time.Duration {
	work, now := time.Duration(0), time.Now()
	for p := range l.places {
		if !p.patient || !l.yields {
			work += max(0, p.until.Sub(now))
		}
	}
	between := l.fresh.Len() + 1 // of those who come again
	for _, ahead := range []struct {
		queue *list.List
		most  int
	}{{&l.begun, math.MaxInt}, {&l.fresh, math.MaxInt}, {&l.again, between}} {
		for at, n := ahead.queue.Front(), 0; at != nil && n < ahead.most; at, n = at.Next(), n+1 {
			work += at.Value.(*waiter).cost
		}
	}
	return work / time.Duration(l.size)
}

// mean is about how much work a newcomer brings.
func (l *workerLane) mean() time.Duration { return time.Duration(float64(l.held) / l.came) }

// count counts a newcomer who is let in.
func (l *workerLane) count() {
	const keeps = 1 - 1.0/meanOf
	l.held, l.came = time.Duration(keeps*float64(l.held)), float64(keeps*l.came)+1
}

// busy is the error of those who are refused: they are to come back when what is under way
// is done.
func (l *workerLane) busy() error {
	l.meter.busy.WithLabelValues(l.lacking).Inc()
	return &BusyError{RetryAfter: time.Duration(max(1, math.Ceil(l.foreseen().Seconds()))) * time.Second}
}

// crowd is how many wait who won't for long, waiting is how many wait that aren't patient.
func (l *workerLane) crowd() int   { return l.begun.Len() + l.fresh.Len() }
func (l *workerLane) waiting() int { return l.crowd() + l.again.Len() }

// free is how many workers nobody has but patient work; below 0 where spare ones are hired.
func (l *workerLane) free() int { return l.room() + l.patients }

// grant takes a place that is free.
func (l *workerLane) grant(cost time.Duration, patient bool) *place {
	p := &place{lane: l, patient: patient, from: time.Now()}
	p.until = p.from.Add(cost)
	l.places[p] = struct{}{}
	if patient && l.yields {
		l.patients++
	}
	l.meter.inflight.WithLabelValues(l.name).Inc()
	return p
}

// giveBack gives a place to whoever waits for one.
func (l *workerLane) giveBack(p *place) {
	delete(l.places, p)
	if p.patient && l.yields {
		l.patients--
	}
	l.meter.inflight.WithLabelValues(l.name).Dec()
	l.callNext()
}

// callNext gives the free places to those who wait.
func (l *workerLane) callNext() {
	for l.free() > 0 {
		queue := l.nextQueue()
		at := queue.Front()
		if at == nil {
			break
		}
		switch queue {
		case &l.fresh:
			l.freshLast = true
			l.count()
		case &l.again:
			l.freshLast = false
		}
		w := queue.Remove(at).(*waiter)
		w.granted <- l.grant(w.cost, false)
	}
	l.callAgain()
	for l.room() > 0 && l.waiting() == 0 && l.patient.Len() > 0 {
		w := l.patient.Remove(l.patient.Front()).(*waiter)
		w.granted <- l.grant(0, true)
	}
}

// nextQueue is that of which somebody is to be called next.
func (l *workerLane) nextQueue() *list.List {
	switch {
	case l.begun.Len() > 0:
		return &l.begun
	case l.again.Len() > 0 && (l.freshLast || l.fresh.Len() == 0):
		return &l.again
	}
	return &l.fresh
}

// leave gives the place back.
func (p *place) leave() {
	l := p.lane
	l.mu.Lock()
	defer l.mu.Unlock()
	if !p.patient { // it isn't work of newcomers
		l.held += time.Since(p.from)
	}
	l.giveBack(p)
}

// expect says how long the work is foreseen to take from now on.
func (p *place) expect(cost time.Duration) {
	p.lane.mu.Lock()
	defer p.lane.mu.Unlock()
	p.until = time.Now().Add(cost)
}

// hire takes up to n workers that are free right now and that nobody waits for, spare ones
// among them, and returns how many it took.
func (l *workerLane) hire(n, spare int, patient bool) int {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.waiting() > 0 {
		return 0
	}
	n = max(0, min(n, l.left(patient)+spare))
	l.hired += n
	if patient && l.yields {
		l.patients += n
	}
	l.meter.inflight.WithLabelValues(l.name).Add(float64(n))
	return n
}

// left is how many workers there are to be had.
func (l *workerLane) left(patient bool) int {
	if patient {
		return l.room()
	}
	return l.free()
}

// uncrowded reports whether nobody waits for a worker and the lane has no more than its own
// and the spare ones.
func (l *workerLane) uncrowded(spare int, patient bool) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.waiting() == 0 && l.left(patient)+spare >= 0
}

// dismiss gives a hired worker back.
func (l *workerLane) dismiss(patient bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.hired--
	if patient && l.yields {
		l.patients--
	}
	l.meter.inflight.WithLabelValues(l.name).Dec()
	l.callNext()
}

// idle reports whether nothing is under way.
func (l *workerLane) idle() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return len(l.places) == 0
}
