package jobs

import (
	"context"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// Config says how many jobs there may be. The zero value is a good configuration of a queue that
// somebody else works on.
type Config struct {
	// Workers is how many jobs are worked on at the same time in this process.
	Workers int
	// TTL is how long a job that is over is kept; 0 for an hour.
	TTL time.Duration
	// MostWaiting is how many jobs may wait, those that are worked on included; 0 for 100.
	MostWaiting int
	// Registerer takes the metrics; nil for none.
	Registerer prometheus.Registerer
}

func (cfg Config) complete() Config {
	if cfg.TTL == 0 {
		cfg.TTL = defaultTTL
	}
	if cfg.MostWaiting == 0 {
		cfg.MostWaiting = defaultMostWaiting
	}
	return cfg
}

// Most memory of the calls that wait, and of the answers that wait to be fetched, in bytes as
// they are kept, compressed.
const mostCallBytes, mostAnswerBytes = 64 << 20, 64 << 20

// Local is a queue in this process. What waits in it is lost when the process ends.
type Local struct {
	cfg   Config
	meter *meter
	now   func() time.Time

	mu   sync.Mutex
	jobs map[string]*entry
	// waiting are the jobs that wait, the next first; over those that are, in the order in which
	// they became so.
	waiting, over []*entry
	running       int
	// callBytes and answerBytes are what is kept.
	callBytes, answerBytes int
	closed                 bool

	// more is told when there is something to work on, or nothing ever again.
	more    *sync.Cond
	workers sync.WaitGroup
	ctx     context.Context //nolint:containedctx // that of the work, which has no caller
	stop    context.CancelFunc
}

// entry is a job of a local queue.
type entry struct {
	job    Job
	client string
	// call is sealed; nil once it is worked on.
	call      []byte
	submitted time.Time
	// ended is closed once the job is over.
	ended chan struct{}
	// cancel ends the work; nil before it has begun.
	cancel context.CancelFunc
}

// NewLocal returns an empty queue. It fails where its metrics are registered already.
func NewLocal(cfg Config) (*Local, error) {
	l := &Local{cfg: cfg.complete(), meter: newMeter(), now: time.Now, jobs: map[string]*entry{}}
	l.more = sync.NewCond(&l.mu)
	l.ctx, l.stop = context.WithCancel(context.Background())
	return l, l.meter.register(cfg.Registerer, l.census)
}

// Near implements Queue.
func (l *Local) Near() bool { return true }

// Submit implements Queue.
func (l *Local) Submit(_ context.Context, call Call) (Job, error) {
	id := newID()
	sealed, err := sealCall(id, call)
	if err != nil {
		return Job{}, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.forget()
	if len(l.waiting)+l.running >= l.cfg.MostWaiting || l.callBytes+len(sealed) > mostCallBytes {
		return Job{}, &FullError{RetryAfter: fullAgain}
	}
	e := &entry{job: Job{ID: id, State: Waiting}, client: call.Client, call: sealed, submitted: l.now(), ended: make(chan struct{})}
	l.jobs[e.job.ID] = e
	l.waiting = append(l.waiting, e)
	l.callBytes += len(sealed)
	l.more.Signal()
	return e.job, nil
}

// Look implements Queue.
func (l *Local) Look(ctx context.Context, id, client string, wait time.Duration) (Job, error) {
	e, job, err := l.find(id, client)
	if err != nil || job.State.Over() || wait <= 0 {
		return job, err
	}
	timer := time.NewTimer(wait)
	defer timer.Stop()
	select {
	case <-e.ended:
	case <-timer.C:
	case <-ctx.Done():
		return Job{}, ctx.Err()
	}
	_, job, err = l.find(id, client)
	return job, err
}

// find returns a client's job.
func (l *Local) find(id, client string) (*entry, Job, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.forget()
	e, ok := l.jobs[id]
	if !ok || e.client != client {
		return nil, Job{}, ErrUnknown
	}
	job := e.job
	if job.Answer != nil {
		answer, err := openAnswer(id, job.Answer)
		if err != nil {
			return nil, Job{}, err
		}
		job.Answer = answer
	}
	return e, job, nil
}

// Cancel implements Queue.
func (l *Local) Cancel(_ context.Context, id, client string) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.forget()
	e, ok := l.jobs[id]
	if !ok || e.client != client {
		return ErrUnknown
	}
	if e.job.State.Over() {
		l.dropAnswer(e)
		e.job.State = Cancelled
		return nil
	}
	if e.cancel != nil {
		e.cancel()
	}
	l.end(e, Cancelled, nil)
	return nil
}

// end ends a job, unless it is over. The lock is held.
func (l *Local) end(e *entry, state State, answer []byte) {
	if e.job.State.Over() {
		return
	}
	if e.job.State == Waiting {
		l.takeOut(e)
	}
	e.job.State, e.job.Answer, e.job.Expires = state, answer, l.now().Add(l.cfg.TTL)
	l.answerBytes += len(answer)
	l.over = append(l.over, e)
	for l.answerBytes > mostAnswerBytes { // the oldest go first
		l.forgetFirst()
	}
	close(e.ended)
	l.meter.end(state, l.now().Sub(e.submitted))
}

// takeOut takes a job out of those that wait.
func (l *Local) takeOut(e *entry) {
	for i, w := range l.waiting {
		if w == e {
			l.waiting = append(l.waiting[:i:i], l.waiting[i+1:]...)
			l.callBytes -= len(e.call)
			e.call = nil
			return
		}
	}
}

func (l *Local) dropAnswer(e *entry) {
	l.answerBytes -= len(e.job.Answer)
	e.job.Answer = nil
}

// forget forgets the jobs whose time is over.
func (l *Local) forget() {
	for len(l.over) > 0 && !l.now().Before(l.over[0].job.Expires) {
		l.forgetFirst()
	}
}

func (l *Local) forgetFirst() {
	first := l.over[0]
	l.over = l.over[1:]
	l.dropAnswer(first)
	delete(l.jobs, first.job.ID)
}

// Start implements Queue.
func (l *Local) Start(work Work) error {
	for range l.cfg.Workers {
		l.workers.Go(func() {
			for e := l.next(); e != nil; e = l.next() {
				l.workOn(e, work)
			}
		})
	}
	return nil
}

// next returns the next job to work on, nil for none ever again.
func (l *Local) next() *entry {
	l.mu.Lock()
	defer l.mu.Unlock()
	for len(l.waiting) == 0 && !l.closed {
		l.more.Wait()
	}
	if l.closed {
		return nil
	}
	e := l.waiting[0]
	l.waiting = l.waiting[1:]
	l.callBytes -= len(e.call)
	e.job.State = Running
	l.running++
	return e
}

// workOn works on a job.
func (l *Local) workOn(e *entry, work Work) {
	ctx, cancel := context.WithTimeout(l.ctx, mostRun)
	defer cancel()
	state, answer := Failed, []byte(nil)
	defer func() {
		l.mu.Lock()
		defer l.mu.Unlock()
		l.running--
		l.end(e, state, answer)
	}()
	if !l.begin(e, cancel) {
		return
	}
	call, err := openCall(e.job.ID, e.call)
	e.call = nil
	if err != nil {
		return
	}
	found, err := work(ctx, call, func(done, of int) { l.progress(e, done, of) })
	if err != nil {
		return
	}
	if answer = sealAnswer(e.job.ID, found.Body); !found.Failed {
		state = Done
	}
}

// begin lets a job be cancelled from now on; false where it is over already.
func (l *Local) begin(e *entry, cancel context.CancelFunc) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	e.cancel = cancel
	return !e.job.State.Over()
}

func (l *Local) progress(e *entry, done, of int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	e.job.Done, e.job.Of = done, of
}

// Close implements Queue.
func (l *Local) Close(ctx context.Context) error {
	l.mu.Lock()
	l.closed = true
	l.more.Broadcast()
	l.mu.Unlock()
	defer context.AfterFunc(ctx, l.stop)()
	l.workers.Wait()
	l.stop()
	return nil
}

// census counts what is under way.
func (l *Local) census() census {
	l.mu.Lock()
	defer l.mu.Unlock()
	c := census{waiting: len(l.waiting), running: l.running}
	for _, e := range l.waiting {
		c.oldest = max(c.oldest, l.now().Sub(e.submitted))
	}
	return c
}
