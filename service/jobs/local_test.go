package jobs

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"
	"go.uber.org/goleak"
	"pgregory.net/rapid"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// queue returns a queue that ends with the test.
func queue(t testing.TB, cfg Config) *Local {
	t.Helper()
	l, err := NewLocal(cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = l.Close(t.Context()) })
	return l
}

// submit lets a call of somebody wait.
func submit(t testing.TB, q Queue, client, body string) string {
	t.Helper()
	job, err := q.Submit(t.Context(), Call{Client: client, Path: "/v1/x", Body: []byte(body)})
	if err != nil || job.State != Waiting || job.ID == "" {
		t.Fatalf("%+v, %v", job, err)
	}
	return job.ID
}

// look looks at a job.
func look(t testing.TB, q Queue, id string, wait time.Duration) Job {
	t.Helper()
	job, err := q.Look(t.Context(), id, "", wait)
	if err != nil {
		t.Fatal(err)
	}
	return job
}

// echo answers a call with its body; one that begins with "-" fails.
func echo(_ context.Context, call Call, _ func(done, of int)) (Answer, error) {
	return Answer{Failed: bytes.HasPrefix(call.Body, []byte("-")), Body: call.Body}, nil
}

// Jobs are answered in the order in which they came, each with its own answer, once.
func TestJobsAreAnswered(t *testing.T) {
	l := queue(t, Config{Workers: 2})
	ids := map[string]string{}
	for i := range 20 {
		for _, body := range []string{fmt.Sprint(i), fmt.Sprint("-", i)} {
			ids[submit(t, l, "", body)] = body
		}
	}
	if err := l.Start(echo); err != nil {
		t.Fatal(err)
	}
	for id, body := range ids {
		want := Done
		if body[0] == '-' {
			want = Failed
		}
		if job := look(t, l, id, time.Minute); job.State != want || string(job.Answer) != body || job.Expires.IsZero() {
			t.Errorf("%q: %+v", body, job)
		}
	}
}

func TestJobsAreTheirClients(t *testing.T) {
	l := queue(t, Config{})
	id := submit(t, l, "bot", "x")
	for _, client := range []string{"", "page"} {
		if _, err := l.Look(t.Context(), id, client, 0); !errors.Is(err, ErrUnknown) {
			t.Errorf("%q sees it: %v", client, err)
		}
		if err := l.Cancel(t.Context(), id, client); !errors.Is(err, ErrUnknown) {
			t.Errorf("%q cancels it: %v", client, err)
		}
	}
	if job, err := l.Look(t.Context(), id, "bot", 0); err != nil || job.State != Waiting {
		t.Errorf("its own: %+v, %v", job, err)
	}
}

// Cancelling ends what waits, what is worked on, and what is over, and may be repeated.
func TestCancel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, err := NewLocal(Config{Workers: 1})
		if err != nil {
			t.Fatal(err)
		}
		over := submit(t, l, "", "over")
		ended := make(chan error, 1)
		work := func(ctx context.Context, call Call, progress func(done, of int)) (Answer, error) {
			if string(call.Body) == "over" {
				return echo(ctx, call, progress)
			}
			progress(1, 3)
			<-ctx.Done()
			ended <- ctx.Err()
			return Answer{}, ctx.Err()
		}
		if err := l.Start(work); err != nil {
			t.Fatal(err)
		}
		synctest.Wait()
		running := submit(t, l, "", "running")
		synctest.Wait()
		if job := look(t, l, running, 0); job.State != Running || job.Done != 1 || job.Of != 3 {
			t.Errorf("%+v", job)
		}
		for _, id := range []string{over, running, submit(t, l, "", "waiting")} {
			for range 2 {
				if err := l.Cancel(t.Context(), id, ""); err != nil {
					t.Fatal(err)
				}
				if job := look(t, l, id, 0); job.State != Cancelled || job.Answer != nil {
					t.Errorf("%+v", job)
				}
			}
		}
		if err := <-ended; !errors.Is(err, context.Canceled) {
			t.Errorf("the work ended with %v", err)
		}
		_ = l.Close(t.Context())
	})
}

// A job that is over is forgotten after its time, and sooner where there is no memory.
func TestJobsAreForgotten(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, err := NewLocal(Config{Workers: 1, TTL: time.Minute})
		if err != nil {
			t.Fatal(err)
		}
		defer func() { _ = l.Close(t.Context()) }()
		if err := l.Start(echo); err != nil {
			t.Fatal(err)
		}
		first := submit(t, l, "", "first")
		synctest.Wait()
		time.Sleep(59 * time.Second)
		if job := look(t, l, first, 0); job.State != Done {
			t.Errorf("%+v", job)
		}
		time.Sleep(time.Second)
		if _, err := l.Look(t.Context(), first, "", 0); !errors.Is(err, ErrUnknown) {
			t.Errorf("after its time: %v", err)
		}
		l.mu.Lock()
		l.answerBytes = mostAnswerBytes // of others
		l.mu.Unlock()
		second := submit(t, l, "", "second")
		synctest.Wait()
		if _, err := l.Look(t.Context(), second, "", 0); !errors.Is(err, ErrUnknown) {
			t.Errorf("without memory: %v", err)
		}
	})
}

// What waits is bounded, in number and in bytes.
func TestQueueIsBounded(t *testing.T) {
	l := queue(t, Config{MostWaiting: 2})
	var full *FullError
	first := submit(t, l, "", "1")
	submit(t, l, "", "2")
	if _, err := l.Submit(t.Context(), Call{}); !errors.As(err, &full) || full.RetryAfter <= 0 {
		t.Errorf("one too many: %v", err)
	}
	if err := l.Cancel(t.Context(), first, ""); err != nil {
		t.Fatal(err)
	}
	l.callBytes += mostCallBytes
	if _, err := l.Submit(t.Context(), Call{}); !errors.As(err, &full) {
		t.Errorf("a byte too many: %v", err)
	}
	l.callBytes -= mostCallBytes
	submit(t, l, "", "3")
}

// A queue that is closed finishes what is worked on within its grace, and ends it then.
func TestClose(t *testing.T) {
	for _, patient := range []bool{true, false} {
		synctest.Test(t, func(t *testing.T) {
			l, err := NewLocal(Config{Workers: 1})
			if err != nil {
				t.Fatal(err)
			}
			work := func(ctx context.Context, call Call, progress func(done, of int)) (Answer, error) {
				select {
				case <-time.After(time.Minute):
					return echo(ctx, call, progress)
				case <-ctx.Done():
					return Answer{}, ctx.Err()
				}
			}
			if err := l.Start(work); err != nil {
				t.Fatal(err)
			}
			running, waiting := submit(t, l, "", "running"), submit(t, l, "", "waiting")
			synctest.Wait()
			grace, want := 2*time.Minute, Done
			if !patient {
				grace, want = time.Second, Failed
			}
			ctx, cancel := context.WithTimeout(t.Context(), grace)
			defer cancel()
			if err := l.Close(ctx); err != nil {
				t.Fatal(err)
			}
			if job := look(t, l, running, 0); job.State != want {
				t.Errorf("what is worked on: %s, want %s", job.State, want)
			}
			if job := look(t, l, waiting, 0); job.State != Waiting {
				t.Errorf("what waits: %s", job.State)
			}
		})
	}
}

func TestMetrics(t *testing.T) {
	r := prometheus.NewRegistry()
	l := queue(t, Config{Registerer: r})
	submit(t, l, "", "1")
	if err := l.Cancel(t.Context(), submit(t, l, "", "2"), ""); err != nil {
		t.Fatal(err)
	}
	if got := testutil.ToFloat64(l.meter.ended.WithLabelValues("cancelled")); got != 1 {
		t.Errorf("%v are cancelled", got)
	}
	if c := l.census(); c.waiting != 1 || c.running != 0 || c.oldest <= 0 {
		t.Errorf("%+v", c)
	}
	if n, err := testutil.GatherAndCount(r); err != nil || n != 8 {
		t.Errorf("%d metrics, %v", n, err)
	}
}

// Whatever callers do, a job that was accepted ends once, memory is counted right, and nothing
// is known of it after its time.
func TestLocalKeepsItsAccounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := time.Unix(1_700_000_000, 0)
		l, err := NewLocal(Config{TTL: time.Minute, MostWaiting: 5})
		if err != nil {
			t.Fatal(err)
		}
		l.now = func() time.Time { return now }
		var ids []string
		for range rapid.IntRange(1, 80).Draw(t, "steps") {
			switch rapid.SampledFrom([]string{"submit", "work", "cancel", "later"}).Draw(t, "step") {
			case "submit":
				if job, err := l.Submit(context.Background(), Call{Body: rapid.SliceOf(rapid.Byte()).Draw(t, "body")}); err == nil {
					ids = append(ids, job.ID)
				}
			case "work":
				if l.census().waiting > 0 {
					l.workOn(l.next(), echo)
				}
			case "cancel":
				if len(ids) > 0 {
					_ = l.Cancel(context.Background(), rapid.SampledFrom(ids).Draw(t, "id"), "")
				}
			case "later":
				now = now.Add(rapid.SampledFrom([]time.Duration{time.Second, 40 * time.Second}).Draw(t, "later"))
				l.forget()
			}
			calls, answers := 0, 0
			for _, e := range l.jobs {
				calls, answers = calls+len(e.call), answers+len(e.job.Answer)
				if e.job.State.Over() && !now.Before(e.job.Expires) {
					t.Fatalf("a job is known %v after its time", now.Sub(e.job.Expires))
				}
			}
			if calls != l.callBytes || answers != l.answerBytes || len(l.jobs) != len(l.waiting)+len(l.over) || len(l.waiting) > 5 {
				t.Fatalf("%d and %d bytes, counted %d and %d; %d jobs, %d waiting, %d over", calls, answers, l.callBytes, l.answerBytes, len(l.jobs), len(l.waiting), len(l.over))
			}
		}
	})
}

// FuzzOpenCall demands that whatever stands where a call was kept is that call or none.
func FuzzOpenCall(f *testing.F) {
	sealed, err := sealCall("id", Call{Path: "/v1/plans", Body: []byte("{}")})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(sealed)
	f.Add(sealed[:len(sealed)-1])
	f.Fuzz(func(t *testing.T, kept []byte) {
		if call, err := openCall("id", kept); err == nil && call.Path != "/v1/plans" {
			t.Errorf("opened as %+v", call)
		}
		if _, err := openCall("other", kept); err == nil {
			t.Error("another job's call is taken")
		}
	})
}
