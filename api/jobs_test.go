package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"maps"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"parcours.example/api"
	"parcours.example/api/contract"
	"parcours.example/service/engine"
	"parcours.example/service/jobs"
	"parcours.example/service/keys"
	"parcours.example/service/quota"
)

// awayQueue is a queue that doesn't answer.
type awayQueue struct{}

func (awayQueue) Submit(context.Context, jobs.Call) (jobs.Job, error) {
	return jobs.Job{}, jobs.ErrAway
}

func (awayQueue) Look(context.Context, string, string, time.Duration) (jobs.Job, error) {
	return jobs.Job{}, jobs.ErrAway
}
func (awayQueue) Cancel(context.Context, string, string) error { return jobs.ErrAway }
func (awayQueue) Start(jobs.Work) error                        { return nil }
func (awayQueue) Near() bool                                   { return false }
func (awayQueue) Close(context.Context) error                  { return nil }

// a request for a race of so many runs.
func raceOf(runs string) string {
	return `{"course": {"profile": {"distance_m": [0, 1000], "elevation_m": [0, 30]}}, "riders": [{"mass_kg": 70, "critical_power_w": 280, "w_prime_j": 18000}], "rules": {"runs": ` + runs + `}}`
}

// later makes a request that asks to be answered later.
func later(path, body string) *http.Request {
	r := request(http.MethodPost, path, "application/json", []byte(body))
	r.Header.Set("Prefer", "respond-async")
	return r
}

// accepted sends a request that is answered later and returns its job.
func accepted(t testing.TB, h *harness, r *http.Request) contract.Job {
	t.Helper()
	w := h.send(t, r)
	job := jobIn(t, w)
	if w.Code != http.StatusAccepted || w.Header().Get("Location") != "/v1/jobs/"+job.JobID || w.Header().Get("Preference-Applied") != "respond-async" || w.Header().Get("Retry-After") == "" {
		t.Fatalf("status %d, %v: %.300s", w.Code, w.Header(), w.Body)
	}
	return job
}

func jobIn(t testing.TB, w *httptest.ResponseRecorder) (job contract.Job) {
	t.Helper()
	if err := json.Unmarshal(w.Body.Bytes(), &job); err != nil {
		t.Fatalf("status %d: %v: %.300s", w.Code, err, w.Body)
	}
	return job
}

// lookAt asks for a job, and waits until it is over.
func lookAt(t testing.TB, h *harness, id string) contract.Job {
	t.Helper()
	for {
		r := request(http.MethodGet, "/v1/jobs/"+id, "", nil)
		r.Header.Set("Prefer", "wait=20")
		w := h.send(t, r)
		job := jobIn(t, w)
		if w.Code != http.StatusOK {
			t.Fatalf("status %d: %.300s", w.Code, w.Body)
		}
		if job.State != contract.Waiting && job.State != contract.Running {
			return job
		}
	}
}

// jobOf sends a request to race and returns the id of its job, in a state.
func jobOf(t testing.TB, h *harness, body, state string) string {
	t.Helper()
	job := accepted(t, h, later("/v1/scenarios", body))
	if got := lookAt(t, h, job.JobID); string(got.State) != state {
		t.Fatalf("the job is %s, not %s", got.State, state)
	}
	return job.JobID
}

// A job comes to what its call answers, byte for byte, whichever call it is, and the call knows
// it then.
func TestJobsAnswerAsTheirCalls(t *testing.T) {
	h, apart := newHarness(t, engine.Config{}), newHarness(t, engine.Config{})
	for id, c := range calls(t) {
		if c.responses.Status(http.StatusAccepted) == nil {
			continue
		}
		for _, x := range c.exchanges {
			if x.Status != http.StatusAccepted {
				continue
			}
			ids := map[*harness]string{}
			for _, on := range []*harness{h, apart} {
				if x.Cached != "" {
					ids[on] = analyse(t, on, readFile(t, x.Cached))
				}
			}
			job := accepted(t, h, x.request(t, c, ids[h]))
			got := lookAt(t, h, job.JobID)
			plain := x
			plain.Headers = maps.Clone(x.Headers)
			delete(plain.Headers, "Prefer")
			want := apart.send(t, plain.request(t, c, ids[apart])).Body.Bytes()
			if got.State != contract.Done || got.Result == nil || !bytes.Equal(*got.Result, bytes.TrimSpace(want)) {
				t.Errorf("%s: %s, which isn't what the call answers:\n%.500s\n%.500s", id, got.State, *got.Result, want)
			}
			if again := h.send(t, x.request(t, c, ids[h])); again.Code != http.StatusOK && id != "compareSeason" { // whose rounds are known, each by itself
				t.Errorf("%s: what is known is answered at once, not with %d", id, again.Code)
			}
		}
	}
}

// What is wrong is told at once where it can be, and else by the job as by the call.
func TestJobsFailAsTheirCalls(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for id, c := range calls(t) {
		if c.responses.Status(http.StatusAccepted) == nil {
			continue
		}
		for _, x := range c.exchanges {
			if x.Status < 400 || x.Keyed || x.Exhausted || x.Busy || x.Stalls || x.BodyBytes > 0 {
				continue
			}
			headers := map[string]string{"Prefer": "respond-async", "Accept": "application/json"}
			maps.Copy(headers, x.Headers)
			x.Headers = headers
			courseID := ""
			if x.Cached != "" {
				courseID = analyse(t, h, readFile(t, x.Cached))
			}
			w := h.send(t, x.request(t, c, courseID))
			if w.Code == x.Status {
				continue
			}
			if w.Code != http.StatusAccepted || x.Status != http.StatusUnprocessableEntity {
				t.Errorf("%s, %s: status %d instead of %d", id, x.Name, w.Code, x.Status)
				continue
			}
			job := lookAt(t, h, jobIn(t, w).JobID)
			if job.State != contract.Failed || job.Problem == nil || job.Problem.Type != "/problems/"+x.Problem || job.Problem.Status != x.Status {
				t.Errorf("%s, %s: %+v", id, x.Name, job)
			}
		}
	}
}

// What can't be kept, or isn't asked to be, is answered at once.
func TestWhatIsAnsweredAtOnce(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := `{"course": {"profile": {"distance_m": [0, 1000]}}, "riders": [{"mass_kg": 70}], "effort": {"kind": "power", "power_w": 250}}`
	for name, change := range map[string]func(*http.Request){
		"a picture":            func(r *http.Request) { r.Header.Set("Accept", "image/png") },
		"another preference":   func(r *http.Request) { r.Header.Set("Prefer", "wait=5, x=\"respond-async\"") },
		"while it stops":       func(*http.Request) { h.stopping.Store(true) },
		"a call that is cheap": func(r *http.Request) { r.URL.Path = "/v1/courses" },
	} {
		r := later("/v1/predictions", body)
		change(r)
		if name == "a call that is cheap" {
			r = later("/v1/courses/assemble", `{"parts": [{"course": {"profile": {"distance_m": [0, 1000]}}}]}`)
		}
		w := h.send(t, r)
		h.stopping.Store(false)
		if w.Code != http.StatusOK || w.Header().Get("Preference-Applied") != "" {
			t.Errorf("%s: status %d, %q", name, w.Code, w.Header().Get("Preference-Applied"))
		}
	}
}

// A job is cancelled, and what it came to is gone, however often.
func TestJobsAreCancelled(t *testing.T) {
	h := newHarness(t, engine.Config{})
	running := accepted(t, h, later("/v1/scenarios", raceOf("2000"))).JobID
	done := jobOf(t, h, raceOf("1"), "done")
	_ = done
	for _, id := range []string{running, done} {
		for range 2 {
			if w := h.send(t, request(http.MethodDelete, "/v1/jobs/"+id, "", nil)); w.Code != http.StatusNoContent {
				t.Fatalf("status %d: %s", w.Code, w.Body)
			}
			if job := lookAt(t, h, id); job.State != contract.Cancelled || job.Result != nil || job.Problem != nil || job.Expires == nil {
				t.Errorf("%+v", job)
			}
		}
	}
}

// Where there are keys, a job is its client's, and others aren't told that it is there.
func TestJobsAreTheirClients(t *testing.T) {
	key, other := keys.New(), keys.New()
	file := keysIn(t, keys.Line(keys.Client{Name: "bot"}, key), keys.Line(keys.Client{Name: "page"}, other))
	h := newHarnessOf(t, engine.Config{}, api.Config{Keys: file, Quotas: counter(t)})
	with := func(r *http.Request, key string) *http.Request {
		r.Header.Set("Authorization", "Bearer "+key)
		return r
	}
	job := accepted(t, h, with(later("/v1/scenarios", raceOf("3")), key)).JobID
	for _, method := range []string{http.MethodGet, http.MethodDelete} {
		if w := h.send(t, with(request(method, "/v1/jobs/"+job, "", nil), other)); w.Code != http.StatusNotFound {
			t.Errorf("%s of another's: status %d", method, w.Code)
		}
		if w := h.send(t, request(method, "/v1/jobs/"+job, "", nil)); w.Code != http.StatusUnauthorized {
			t.Errorf("%s of nobody: status %d", method, w.Code)
		}
	}
	if w := h.send(t, with(request(http.MethodGet, "/v1/jobs/"+job, "", nil), key)); w.Code != http.StatusOK {
		t.Errorf("one's own: status %d", w.Code)
	}
	if strings.Contains(h.log.String(), job) {
		t.Error("the log names the job")
	}
}

// Quotas count a call when it is sent, and not the looks at its job.
func TestQuotasOfJobs(t *testing.T) {
	h := newHarnessOf(t, engine.Config{}, api.Config{Quotas: counter(t), PerAddress: quota.MostCost})
	job := accepted(t, h, later("/v1/scenarios", raceOf("2"))).JobID // costs all
	for range 3 {
		if got := lookAt(t, h, job); got.State != contract.Done {
			t.Errorf("%+v", got)
		}
	}
	if w := h.send(t, later("/v1/scenarios", raceOf("4"))); w.Code != http.StatusTooManyRequests {
		t.Errorf("another: status %d", w.Code)
	}
}

// A race tells how far it is.
func TestJobsTellTheirProgress(t *testing.T) {
	h := newHarness(t, engine.Config{})
	job := lookAt(t, h, accepted(t, h, later("/v1/scenarios", raceOf("12"))).JobID)
	if job.Progress == nil || job.Progress.Done != 12 || job.Progress.Of != 12 {
		t.Errorf("progress %+v", job.Progress)
	}
}
