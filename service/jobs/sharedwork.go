//go:build !js

package jobs

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"regexp"
	"strconv"
	"sync/atomic"
	"time"

	"github.com/hibiken/asynq"
	"github.com/redis/go-redis/v9"
)

// How asynq is used. Its lease of 30 s, and that leases which ran out are looked for each minute
// and 30 s later, can't be chosen.
const (
	// checkEvery is about how long a job waits for a worker that is free: asynq polls.
	checkEvery = 250 * time.Millisecond
	// againAfter is when a job is worked on again that was given back, or whose worker died.
	againAfter = time.Second
	// watchEvery is how often a worker looks whether its job was cancelled, and tells how far it
	// is.
	watchEvery = 500 * time.Millisecond
	// storeFor is how long a worker tries to store an answer, storeEvery how often.
	storeFor, storeEvery = 2 * time.Minute, time.Second
	// quietFor is how long asynq says nothing more once it has said something.
	quietFor = 10 * time.Second
)

// errGivenBack says that a job is to be worked on by somebody else.
var errGivenBack = errors.New("jobs: given back")

// Start implements Queue.
func (s *Shared) Start(work Work) error {
	if s.cfg.Workers == 0 {
		return nil
	}
	s.work = work
	s.server = asynq.NewServerFromRedisClient(s.client, asynq.Config{
		Concurrency: s.cfg.Workers, Queues: map[string]int{queueName: 1},
		TaskCheckInterval: checkEvery, DelayedTaskCheckInterval: againAfter,
		RetryDelayFunc: func(int, error, *asynq.Task) time.Duration { return againAfter },
		IsFailure:      func(err error) bool { return !errors.Is(err, errGivenBack) },
		// Close ends what is worked on, and waits for it to be given back.
		ShutdownTimeout: mostRun,
		Logger:          &quietLog{logger: s.logger}, LogLevel: asynq.WarnLevel,
	})
	if err := s.server.Start(asynq.HandlerFunc(s.workOn)); err != nil {
		return fmt.Errorf("jobs: %w", err)
	}
	s.every(mendEvery, s.mend)
	return nil
}

// workOn works on a job. It goes on when asynq gives it up because its lease ran out, as it does
// while Redis is away: whoever ends the job first ends it.
func (s *Shared) workOn(given context.Context, task *asynq.Task) error {
	s.working.Add(1)
	defer s.working.Done()
	id := string(task.Payload())
	ctx, cancel := context.WithTimeout(context.WithoutCancel(given), mostRun)
	defer cancel()
	defer context.AfterFunc(s.ctx, cancel)()
	try, call, err := s.begin(ctx, id)
	switch {
	case errors.Is(err, redis.Nil): // it is over
		return nil
	case err != nil:
		return err
	case try > mostTries:
		return s.finish(id, Failed, nil, nil)
	}
	var far progress
	over := s.watch(ctx, id, &far, cancel)
	found, err := s.work(ctx, call, far.set)
	cancel()
	<-over
	switch {
	case err == nil && found.Failed:
		return s.finish(id, Failed, sealAnswer(id, found.Body), &far)
	case err == nil:
		return s.finish(id, Done, sealAnswer(id, found.Body), &far)
	case s.ctx.Err() != nil:
		return s.giveBack(id, try)
	case errors.Is(ctx.Err(), context.DeadlineExceeded):
		return s.finish(id, Failed, nil, &far)
	}
	return nil // it was cancelled, or ended by somebody else
}

// begin begins a job and returns the how manieth time that is, and its call. It fails with
// redis.Nil where the job is over.
func (s *Shared) begin(ctx context.Context, id string) (try int64, call Call, err error) {
	ctx, cancel := context.WithTimeout(ctx, submitWait)
	defer cancel()
	found, err := beginScript.Run(ctx, s.client, []string{recordKey + id}).Slice()
	if err != nil {
		return 0, Call{}, err
	}
	try, _ = found[0].(int64)
	call, err = openCall(id, []byte(text(found[1])))
	if err != nil {
		try = mostTries + 1 // it won't be better the next time
	}
	return try, call, nil
}

// progress is how far a job is.
type progress struct{ done, of atomic.Int64 }

func (p *progress) set(done, of int) {
	p.done.Store(int64(done))
	p.of.Store(int64(of))
}

// watch tells how far a job is, and ends its work where it is over, until its context ends; then
// it closes what it returns.
func (s *Shared) watch(ctx context.Context, id string, far *progress, end context.CancelFunc) (over <-chan struct{}) {
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		tick := time.NewTicker(watchEvery)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
			}
			goesOn, err := tellScript.Run(ctx, s.client, []string{recordKey + id}, far.done.Load(), far.of.Load()).Int()
			if err == nil && goesOn == 0 {
				end()
			}
		}
	}()
	return ended
}

// finish ends a job, unless it is over; where Redis is away it waits for it to come back.
func (s *Shared) finish(id string, state State, answer []byte, far *progress) error {
	if far == nil {
		far = &progress{}
	}
	ctx, cancel := context.WithTimeout(context.Background(), storeFor)
	defer cancel()
	for {
		sent, err := finishScript.Run(ctx, s.client, []string{recordKey + id, indexKey}, id, string(state), answer, s.cfg.TTL.Milliseconds(), far.done.Load(), far.of.Load()).Int64()
		if err == nil {
			if sent > 0 {
				s.meter.end(state, time.Since(time.UnixMilli(sent)))
			}
			return nil
		}
		select {
		case <-ctx.Done():
			return err
		case <-s.ctx.Done():
			return err
		case <-time.After(storeEvery):
		}
	}
}

// giveBack lets somebody else begin a job.
func (s *Shared) giveBack(id string, try int64) error {
	ctx, cancel := context.WithTimeout(context.Background(), lookWait)
	defer cancel()
	if err := giveBackScript.Run(ctx, s.client, []string{recordKey + id}, strconv.FormatInt(try, 10)).Err(); err != nil {
		return err
	}
	return errGivenBack
}

// quietLog is what asynq logs to: it repeats itself while Redis is away, and names jobs.
type quietLog struct {
	logger *slog.Logger
	// until is when it may speak again, in nanoseconds since 1970.
	until atomic.Int64
}

// jobName finds ids of jobs.
var jobName = regexp.MustCompile(`[A-Z2-7]{26}`)

func (l *quietLog) say(level slog.Level, args []any) {
	now, until := time.Now(), l.until.Load()
	if now.UnixNano() < until || !l.until.CompareAndSwap(until, now.Add(quietFor).UnixNano()) {
		return
	}
	said := jobName.ReplaceAllString(fmt.Sprint(args...), "…")
	l.logger.Log(context.Background(), level, "jobs", slog.String("queue", fmt.Sprintf("%.300s", said)))
}

// Debug implements asynq.Logger.
func (l *quietLog) Debug(args ...any) { l.say(slog.LevelDebug, args) }

// Info implements asynq.Logger.
func (l *quietLog) Info(args ...any) { l.say(slog.LevelInfo, args) }

// Warn implements asynq.Logger.
func (l *quietLog) Warn(args ...any) { l.say(slog.LevelWarn, args) }

// Error implements asynq.Logger.
func (l *quietLog) Error(args ...any) { l.say(slog.LevelError, args) }

// Fatal implements asynq.Logger. It ends nothing.
func (l *quietLog) Fatal(args ...any) { l.say(slog.LevelError, args) }
