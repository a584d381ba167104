//go:build !js

package jobs

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strconv"
	"sync"
	"sync/atomic"
	"time"

	"github.com/hibiken/asynq"
	"github.com/redis/go-redis/v9"
)

// Shared is a queue in a Redis that many processes share, those that accept jobs and those that
// work on them. Asynq hands each job to one worker at a time, and to another one when a worker
// dies; what a job asks and comes to stands in its own record, which ends once, whoever ends it.
type Shared struct {
	cfg    Config
	logger *slog.Logger
	client redis.UniversalClient
	send   *asynq.Client
	look   *asynq.Inspector
	meter  *meter
	seen   atomic.Pointer[census]

	// server works on jobs; nil where this process doesn't.
	server *asynq.Server
	work   Work
	// ctx ends when jobs that are worked on must be given back.
	ctx     context.Context //nolint:containedctx // that of the work, which has no caller
	stop    context.CancelFunc
	working sync.WaitGroup
	// watches are what goes on beside.
	watches    sync.WaitGroup
	unwatch    context.CancelFunc
	watchingIn context.Context //nolint:containedctx // as ctx
}

// Waits for Redis, and how often it is asked.
const (
	// submitWait, lookWait bound what a caller waits for Redis.
	submitWait, lookWait = 5 * time.Second, 2 * time.Second
	// firstLook and mostLook are how long somebody who waits for a job waits between two looks.
	firstLook, mostLook = 50 * time.Millisecond, 500 * time.Millisecond
	// censusEvery is how old what metrics tell may be; mendEvery is how often jobs are looked for
	// whose task is lost.
	censusEvery, mendEvery = 5 * time.Second, time.Minute
)

// OpenShared opens a queue in a Redis, which is closed with it. It doesn't wait for Redis. It
// fails where its metrics are registered already.
func OpenShared(cfg Config, client redis.UniversalClient, logger *slog.Logger) (*Shared, error) {
	s := &Shared{
		cfg: cfg.complete(), logger: logger, client: client, meter: newMeter(),
		send: asynq.NewClientFromRedisClient(client), look: asynq.NewInspectorFromRedisClient(client),
	}
	s.ctx, s.stop = context.WithCancel(context.Background())
	s.watchingIn, s.unwatch = context.WithCancel(context.Background())
	s.seen.Store(&census{})
	if err := s.meter.register(cfg.Registerer, func() census { return *s.seen.Load() }); err != nil {
		return nil, errors.Join(err, client.Close())
	}
	s.every(censusEvery, s.takeCensus)
	return s, nil
}

// every does something again and again until the queue is closed.
func (s *Shared) every(interval time.Duration, do func(context.Context)) {
	s.watches.Go(func() {
		tick := time.NewTicker(interval)
		defer tick.Stop()
		for {
			do(s.watchingIn)
			select {
			case <-s.watchingIn.Done():
				return
			case <-tick.C:
			}
		}
	})
}

// Near implements Queue.
func (s *Shared) Near() bool { return false }

// Submit implements Queue.
func (s *Shared) Submit(ctx context.Context, call Call) (Job, error) {
	id := newID()
	sealed, err := sealCall(id, call)
	if err != nil {
		return Job{}, err
	}
	waiting, cancel := context.WithTimeout(ctx, submitWait)
	defer cancel()
	kept, err := submitScript.Run(waiting, s.client, []string{recordKey + id, indexKey}, time.Now().UnixMilli(), s.cfg.MostWaiting, call.Client, sealed, id).Int()
	if err != nil {
		return Job{}, away(ctx, err)
	}
	if kept == 0 {
		return Job{}, &FullError{RetryAfter: fullAgain}
	}
	if err := s.enqueue(waiting, id); err != nil {
		s.withdraw(id)
		return Job{}, away(ctx, err)
	}
	return Job{ID: id, State: Waiting}, nil
}

// taskType is that of all tasks.
const taskType = "job"

// mostTries is how often a job is begun: what ends the process that works on it so often isn't
// tried again. Asynq never counts so far as to give a job up by itself.
const mostTries, neverRetried = 5, 1 << 20

// enqueue hands a job to asynq. Its task holds the id alone: asynq copies tasks about.
func (s *Shared) enqueue(ctx context.Context, id string) error {
	_, err := s.send.EnqueueContext(ctx, asynq.NewTask(taskType, []byte(id)),
		asynq.Queue(queueName), asynq.TaskID(id), asynq.MaxRetry(neverRetried), asynq.Timeout(2*mostRun))
	if errors.Is(err, asynq.ErrTaskIDConflict) { // it was handed over already
		return nil
	}
	return err
}

// withdraw forgets a job that nobody was told of. Where that fails it will be worked on for
// nobody.
func (s *Shared) withdraw(id string) {
	ctx, cancel := context.WithTimeout(context.Background(), lookWait)
	defer cancel()
	_, _ = s.client.Pipelined(ctx, func(p redis.Pipeliner) error {
		p.Del(ctx, recordKey+id)
		p.ZRem(ctx, indexKey, id)
		return nil
	})
}

// away is the error of a command that failed: the caller's own, or ErrAway.
func away(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return fmt.Errorf("%w: %.200s", ErrAway, err.Error())
}

// Look implements Queue.
func (s *Shared) Look(ctx context.Context, id, client string, wait time.Duration) (Job, error) {
	until, next := time.Now().Add(wait), firstLook
	for {
		job, err := s.lookOnce(ctx, id, client)
		left := time.Until(until)
		if err != nil || job.State.Over() || left <= 0 {
			return job, err
		}
		select {
		case <-ctx.Done():
			return Job{}, ctx.Err()
		case <-time.After(min(next, left)):
		}
		next = min(2*next, mostLook)
	}
}

func (s *Shared) lookOnce(ctx context.Context, id, client string) (Job, error) {
	waiting, cancel := context.WithTimeout(ctx, lookWait)
	defer cancel()
	trip := s.client.Pipeline()
	fields := trip.HMGet(waiting, recordKey+id, fieldClient, fieldState, fieldDone, fieldOf)
	left := trip.PTTL(waiting, recordKey+id)
	if _, err := trip.Exec(waiting); err != nil {
		return Job{}, away(ctx, err)
	}
	found := fields.Val()
	if of, ok := found[0].(string); !ok || of != client {
		return Job{}, ErrUnknown
	}
	job := Job{ID: id, State: State(text(found[1])), Done: number(found[2]), Of: number(found[3])}
	if !job.State.Over() {
		return job, nil
	}
	job.Expires = time.Now().Add(left.Val())
	return s.withAnswer(ctx, waiting, job)
}

// withAnswer adds the answer of a job that is over.
func (s *Shared) withAnswer(ctx, waiting context.Context, job Job) (Job, error) {
	sealed, err := s.client.HGet(waiting, recordKey+job.ID, fieldAnswer).Bytes()
	if errors.Is(err, redis.Nil) || err == nil && len(sealed) == 0 {
		return job, nil
	}
	if err != nil {
		return Job{}, away(ctx, err)
	}
	job.Answer, err = openAnswer(job.ID, sealed)
	return job, err
}

// text and number read a field that may be missing.
func text(field any) string {
	s, _ := field.(string)
	return s
}

func number(field any) int {
	n, _ := strconv.Atoi(text(field))
	return n
}

// Cancel implements Queue. Whoever works on the job learns of it within watchEvery.
func (s *Shared) Cancel(ctx context.Context, id, client string) error {
	waiting, cancel := context.WithTimeout(ctx, lookWait)
	defer cancel()
	sent, err := cancelScript.Run(waiting, s.client, []string{recordKey + id, indexKey}, id, client, s.cfg.TTL.Milliseconds()).Int64()
	switch {
	case err != nil:
		return away(ctx, err)
	case sent == 0:
		return ErrUnknown
	case sent > 1:
		s.meter.end(Cancelled, time.Since(time.UnixMilli(sent)))
		_ = s.look.DeleteTask(queueName, id) // where it waits; else it finds out that it is over
	}
	return nil
}

// takeCensus counts what is under way, for the metrics.
func (s *Shared) takeCensus(context.Context) {
	info, err := s.look.GetQueueInfo(queueName)
	switch {
	case errors.Is(err, asynq.ErrQueueNotFound): // no job was ever sent
		s.seen.Store(&census{})
	case err != nil:
		s.seen.Store(&census{away: true})
	default:
		s.seen.Store(&census{waiting: info.Pending + info.Retry + info.Scheduled, running: info.Active, oldest: info.Latency})
	}
}

// mend hands the jobs to asynq again whose task is lost: whoever accepted one may have died just
// before it was handed over.
func (s *Shared) mend(ctx context.Context) {
	before := strconv.FormatInt(time.Now().Add(-mendEvery).UnixMilli(), 10)
	ids, err := s.client.ZRangeByScore(ctx, indexKey, &redis.ZRangeBy{Min: "-inf", Max: before}).Result()
	if err != nil {
		return
	}
	for _, id := range ids {
		if _, err := s.look.GetTaskInfo(queueName, id); errors.Is(err, asynq.ErrTaskNotFound) || errors.Is(err, asynq.ErrQueueNotFound) {
			_ = s.enqueue(ctx, id) // or the next time
		}
	}
}

// Close implements Queue. Jobs that aren't over in time are given back.
func (s *Shared) Close(ctx context.Context) error {
	s.unwatch()
	s.watches.Wait()
	defer context.AfterFunc(ctx, s.stop)()
	if s.server != nil {
		s.server.Shutdown()
	}
	s.working.Wait()
	s.stop()
	return s.client.Close()
}
