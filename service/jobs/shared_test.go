//go:build !js

package jobs

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil"
	"github.com/redis/go-redis/v9"

	"parcours.example/internal/redistest"
	"parcours.example/service/cache"
)

// patience bounds waits; nothing should take nearly as long.
const patience = 30 * time.Second

// shared returns a queue in a Redis, closed with the test.
func shared(t testing.TB, cfg Config, urls ...string) *Shared {
	t.Helper()
	client, err := cache.Client(urls, "")
	if err != nil {
		t.Fatal(err)
	}
	s, err := OpenShared(cfg, client, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		ctx, cancel := context.WithTimeout(context.Background(), 100*time.Millisecond)
		defer cancel()
		_ = s.Close(ctx)
	})
	return s
}

// start starts to work.
func start(t testing.TB, s *Shared, work Work) {
	t.Helper()
	if err := s.Start(work); err != nil {
		t.Fatal(err)
	}
}

// await polls until something holds.
func await(t testing.TB, what string, holds func() bool) {
	t.Helper()
	tick := time.NewTicker(10 * time.Millisecond)
	defer tick.Stop()
	for end := time.Now().Add(patience); !holds(); <-tick.C {
		if time.Now().After(end) {
			t.Fatalf("waited in vain for %s", what)
		}
	}
}

// Those who accept jobs and those who work on them are different processes.
func TestSharedJobsAreAnswered(t *testing.T) {
	t.Parallel()
	server := redistest.Start(t)
	accepts := shared(t, Config{MostWaiting: 9}, server.URL())
	ids := map[string]string{}
	for i := range 4 {
		for _, body := range []string{fmt.Sprint(i), fmt.Sprint("-", i)} {
			ids[submit(t, accepts, "", body)] = body
		}
	}
	cancelled := submit(t, accepts, "", "never")
	var full *FullError
	if _, err := accepts.Submit(t.Context(), Call{}); !errors.As(err, &full) {
		t.Errorf("one too many: %v", err)
	}
	if err := accepts.Cancel(t.Context(), cancelled, ""); err != nil {
		t.Fatal(err)
	}
	works := shared(t, Config{Workers: 2, TTL: time.Minute}, server.URL())
	start(t, works, func(ctx context.Context, call Call, progress func(done, of int)) (Answer, error) {
		if strings.HasPrefix(string(call.Body), "never") {
			t.Error("a cancelled job is worked on")
		}
		progress(2, 3)
		return echo(ctx, call, progress)
	})
	for id, body := range ids {
		want := Done
		if body[0] == '-' {
			want = Failed
		}
		if job := look(t, accepts, id, patience); job.State != want || string(job.Answer) != body || job.Done != 2 || job.Of != 3 || time.Until(job.Expires) > time.Minute || time.Until(job.Expires) <= 0 {
			t.Errorf("%q: %+v", body, job)
		}
	}
	if job := look(t, accepts, cancelled, 0); job.State != Cancelled || job.Answer != nil {
		t.Errorf("%+v", job)
	}
	if n := testutil.ToFloat64(works.meter.ended.WithLabelValues(string(Done))); n != 4 {
		t.Errorf("%v are done", n)
	}
	await(t, "an empty queue", func() bool {
		db := server.Client()
		return db.ZCard(t.Context(), indexKey).Val() == 0 && len(db.Keys(t.Context(), "asynq:{jobs}:t:*").Val()) == 0
	})
	for _, client := range []string{"bot", "page"} {
		for id := range ids {
			if _, err := accepts.Look(t.Context(), id, client, 0); !errors.Is(err, ErrUnknown) {
				t.Errorf("%q sees another's: %v", client, err)
			}
			if err := accepts.Cancel(t.Context(), id, client); !errors.Is(err, ErrUnknown) {
				t.Errorf("%q cancels another's: %v", client, err)
			}
		}
	}
}

// Work that is cancelled ends soon, wherever it is done.
func TestSharedWorkIsCancelled(t *testing.T) {
	t.Parallel()
	server := redistest.Start(t)
	accepts, works := shared(t, Config{}, server.URL()), shared(t, Config{Workers: 1}, server.URL())
	begun, ended := make(chan bool, 1), make(chan error, 1)
	start(t, works, func(ctx context.Context, _ Call, _ func(done, of int)) (Answer, error) {
		begun <- true
		<-ctx.Done()
		ended <- ctx.Err()
		return Answer{}, ctx.Err()
	})
	id := submit(t, accepts, "", "x")
	<-begun
	for range 2 {
		if err := accepts.Cancel(t.Context(), id, ""); err != nil {
			t.Fatal(err)
		}
	}
	select {
	case err := <-ended:
		if !errors.Is(err, context.Canceled) {
			t.Errorf("ended with %v", err)
		}
	case <-time.After(patience):
		t.Fatal("the work goes on")
	}
	if job := look(t, accepts, id, 0); job.State != Cancelled {
		t.Errorf("%+v", job)
	}
}

// abandon makes the lease of a job look as if it had run out long ago, as that of a worker does
// which has died.
func abandon(t testing.TB, db *redis.Client, id string) {
	t.Helper()
	if n := db.ZAddXX(t.Context(), "asynq:{jobs}:lease", redis.Z{Score: float64(time.Now().Add(-time.Hour).Unix()), Member: id}).Err(); n != nil {
		t.Fatal(n)
	}
}

// A job whose worker is lost is worked on by another; where the first one comes back all the
// same, the job has one answer, that of whoever was first.
func TestLostWorkersJobs(t *testing.T) {
	t.Parallel()
	server := redistest.Start(t)
	db := server.Client()
	lost, heir := shared(t, Config{Workers: 1}, server.URL()), shared(t, Config{Workers: 1}, server.URL())
	begun, back, ended := make(chan bool, 1), make(chan bool), make(chan bool, 1)
	start(t, lost, func(context.Context, Call, func(done, of int)) (Answer, error) {
		begun <- true
		<-back
		defer func() { ended <- true }()
		return Answer{Body: []byte("late")}, nil
	})
	id := submit(t, lost, "", "in time")
	<-begun
	abandon(t, db, id)
	start(t, heir, echo)
	if job := look(t, lost, id, patience); job.State != Done || string(job.Answer) != "in time" {
		t.Fatalf("%+v", job)
	}
	close(back)
	<-ended
	await(t, "the late one", func() bool { return len(db.Keys(t.Context(), "asynq:{jobs}:t:*").Val()) == 0 })
	if job := look(t, lost, id, 0); string(job.Answer) != "in time" {
		t.Errorf("a second answer: %q", job.Answer)
	}
	if n := testutil.ToFloat64(lost.meter.ended.WithLabelValues(string(Done))); n != 0 {
		t.Errorf("the late one counts %v", n)
	}
}

// A job that ends whoever works on it fails after some tries, and one that is given back doesn't
// count as tried.
func TestPoisonedJobs(t *testing.T) {
	t.Parallel()
	server := redistest.Start(t)
	accepts := shared(t, Config{}, server.URL())
	id := submit(t, accepts, "", "poison")
	for range mostTries {
		if _, _, err := accepts.begin(t.Context(), id); err != nil {
			t.Fatal(err)
		}
	}
	if err := accepts.giveBack(id, mostTries); !errors.Is(err, errGivenBack) {
		t.Fatal(err)
	}
	if err := accepts.giveBack(id, mostTries); !errors.Is(err, errGivenBack) { // twice changes nothing
		t.Fatal(err)
	}
	if try, call, err := accepts.begin(t.Context(), id); err != nil || try != mostTries || string(call.Body) != "poison" {
		t.Fatalf("try %d, %v", try, err)
	}
	works := shared(t, Config{Workers: 1}, server.URL())
	start(t, works, func(context.Context, Call, func(done, of int)) (Answer, error) {
		t.Error("is worked on once more")
		return Answer{}, nil
	})
	if job := look(t, accepts, id, patience); job.State != Failed || job.Answer != nil {
		t.Errorf("%+v", job)
	}
}

// A worker that stops gives its job back in time, and another one does it.
func TestStoppingWorkersGiveBack(t *testing.T) {
	t.Parallel()
	server := redistest.Start(t)
	stops, heir := shared(t, Config{Workers: 1}, server.URL()), shared(t, Config{Workers: 1}, server.URL())
	begun := make(chan bool, 1)
	start(t, stops, func(ctx context.Context, _ Call, _ func(done, of int)) (Answer, error) {
		begun <- true
		<-ctx.Done()
		return Answer{}, ctx.Err()
	})
	id := submit(t, heir, "", "x")
	<-begun
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	if err := stops.Close(ctx); err != nil {
		t.Fatal(err)
	}
	if tries := server.Client().HGet(t.Context(), recordKey+id, "tries").Val(); tries != "0" {
		t.Errorf("counts as tried %s times", tries)
	}
	start(t, heir, echo)
	if job := look(t, heir, id, patience); job.State != Done {
		t.Errorf("%+v", job)
	}
}

// Without Redis callers are told so in time; an answer that was found meanwhile is stored when
// it is back.
func TestRedisAway(t *testing.T) {
	t.Parallel()
	server := redistest.Start(t)
	s := shared(t, Config{Workers: 1}, server.URL())
	begun, goOn := make(chan bool, 1), make(chan bool)
	start(t, s, func(ctx context.Context, call Call, progress func(done, of int)) (Answer, error) {
		begun <- true
		<-goOn
		return echo(ctx, call, progress)
	})
	id := submit(t, s, "", "x")
	<-begun
	server.Pause()
	close(goOn)
	began := time.Now()
	for name, err := range map[string]error{
		"looking":    func() error { _, err := s.Look(t.Context(), id, "", 0); return err }(),
		"cancelling": s.Cancel(t.Context(), "X", ""),
	} {
		if !errors.Is(err, ErrAway) || strings.Contains(err.Error(), id) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if took := time.Since(began); took > 3*lookWait {
		t.Errorf("callers waited %v", took)
	}
	server.Resume()
	if job := look(t, s, id, patience); job.State != Done || string(job.Answer) != "x" {
		t.Errorf("%+v", job)
	}
}

// A job that was kept and never handed over, because who accepted it died in between, is handed
// over by a worker.
func TestLostTasksAreMended(t *testing.T) {
	t.Parallel()
	server := redistest.Start(t)
	s := shared(t, Config{}, server.URL())
	id := submit(t, s, "", "x")
	kept := submit(t, s, "", "y")
	if err := s.look.DeleteTask(queueName, id); err != nil {
		t.Fatal(err)
	}
	s.mend(t.Context()) // too early
	if _, err := s.look.GetTaskInfo(queueName, id); err == nil {
		t.Error("one that may still be on its way is handed over")
	}
	for _, id := range []string{id, kept} {
		server.Client().ZAdd(t.Context(), indexKey, redis.Z{Score: 1, Member: id})
	}
	s.mend(t.Context())
	s.takeCensus(t.Context())
	if c := s.seen.Load(); c.waiting != 2 {
		t.Errorf("%+v", c)
	}
}

// A Cluster keeps all of a queue on one of its servers.
func TestClusterKeepsJobs(t *testing.T) {
	t.Parallel()
	var urls []string
	for _, s := range redistest.StartCluster(t) {
		urls = append(urls, s.URL())
	}
	s := shared(t, Config{Workers: 1}, urls...)
	start(t, s, echo)
	if job := look(t, s, submit(t, s, "", "x"), patience); job.State != Done {
		t.Errorf("%+v", job)
	}
}

// What the queue logs names no job, and isn't said again and again.
func TestQuietLog(t *testing.T) {
	var b strings.Builder
	l := &quietLog{logger: slog.New(slog.NewTextHandler(&b, nil))}
	id := newID()
	for range 3 {
		l.Warn("task id=", id)
	}
	if strings.Contains(b.String(), id) || strings.Count(b.String(), "task id=") != 1 {
		t.Errorf("logged %s", b.String())
	}
}
