package trials

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"testing"
	"time"

	"github.com/redis/go-redis/v9"

	"parcours.example/internal/figures"
	"parcours.example/internal/redistest"
	"parcours.example/internal/replica"
)

// job is what a service tells of a job.
type job struct {
	JobID   string          `json:"job_id"`
	State   string          `json:"state"`
	Result  json.RawMessage `json:"result"`
	Problem json.RawMessage `json:"problem"`
}

// raced asks for a race that takes a second or more, another one for each seed.
func raced(seed int) []byte {
	runs := 80
	if inFull() {
		runs = 300
	}
	return fmt.Appendf(nil, `{"course": {"profile": {"distance_m": [0, 5000, 12000], "elevation_m": [0, 60, 20]}},
		"drawn": [{"name": "Bunch", "count": 40, "mass_kg": {"mean": 72, "sd": 7}, "w_per_kg": {"mean": 4.0, "sd": 0.25}, "w_prime_j": {"mean": 18000, "sd": 3000}}],
		"rules": {"runs": %d, "seed": %d}}`, runs, seed)
}

// asked sends a request and returns the status and the body of its reply.
func asked(t *testing.T, method, url string, body []byte, prefer string) (int, []byte) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, url, bytes.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Prefer", prefer)
	reply, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer reply.Body.Close()
	content, err := io.ReadAll(reply.Body)
	if err != nil {
		t.Fatal(err)
	}
	return reply.StatusCode, content
}

// submitted sends a race that is answered later and returns its job's id.
func submitted(t *testing.T, p *replica.Process, seed int) string {
	t.Helper()
	status, body := asked(t, http.MethodPost, p.URL("/v1/scenarios"), raced(seed), "respond-async")
	if status != http.StatusAccepted {
		t.Fatalf("status %d: %.300s", status, body)
	}
	return jobIn(t, body).JobID
}

func jobIn(t *testing.T, body []byte) (j job) {
	t.Helper()
	if err := json.Unmarshal(body, &j); err != nil {
		t.Fatalf("%v: %.300s", err, body)
	}
	return j
}

// mostRecovery is how long it may take until a lost worker's job is taken by another: asynq's
// lease of 30 s, the 30 s that it gives clocks, and the minute between two looks.
const mostRecovery = 2 * time.Minute

// T21: workers are killed in the midst of their jobs. Every job ends once, with the answer that
// the call itself gives, and none is left over.
func TestT21WorkersAreKilled(t *testing.T) {
	if testing.Short() {
		t.Skip("builds and runs the program")
	}
	kills := 1
	if inFull() {
		kills = 20
	}
	server := redistest.Start(t)
	settings := []string{"PARCOURS_REDIS_URL=" + server.URL(), "PARCOURS_JOBS_REDIS_URL=" + server.URL()}
	p := launched(t, append(settings, "PARCOURS_JOB_WORKERS=0")...)
	var ids []string
	for seed := range kills + 1 {
		ids = append(ids, submitted(t, p, seed))
	}
	db, killed := server.Client(), map[string]bool{}
	for range kills {
		worker := replica.StartWorker(t, settings...)
		worker.Await("a job that is worked on", func() bool { return len(db.LRange(t.Context(), "asynq:{jobs}:active", 0, -1).Val()) > len(killed) })
		time.Sleep(200 * time.Millisecond) // in its midst
		worker.Kill()
		<-worker.Exited()
		for _, id := range db.LRange(t.Context(), "asynq:{jobs}:active", 0, -1).Val() {
			killed[id] = true
		}
	}
	if !inFull() { // as if the time had passed
		for id := range killed {
			db.ZAddXX(t.Context(), "asynq:{jobs}:lease", redis.Z{Score: 1, Member: id})
		}
	}
	began := time.Now()
	last := replica.StartWorker(t, settings...)
	for seed, id := range ids {
		finished(t, p, id, seed, began.Add(mostRecovery+time.Duration(len(ids))*replica.Patience))
	}
	took := time.Since(began)
	if n := last.Metric("parcours_jobs_ended_total", "outcome", "done"); n != float64(len(ids)) {
		t.Errorf("the last worker ended %v of %d jobs", n, len(ids))
	}
	last.Await("an empty queue", func() bool { return len(db.Keys(t.Context(), "asynq:{jobs}:t:*").Val()) == 0 })
	figures.Report(t, "T21", "%d workers killed in the midst of %d jobs: all %d jobs ended once, as their calls are answered, the last %v after the last kill",
		kills, len(killed), len(ids), took.Round(time.Second))
}

// finished waits for a job and holds what it came to against the answer of its call.
func finished(t *testing.T, p *replica.Process, id string, seed int, until time.Time) {
	t.Helper()
	for {
		status, body := asked(t, http.MethodGet, p.URL("/v1/jobs/"+id), nil, "wait=20")
		j := jobIn(t, body)
		switch {
		case status != http.StatusOK || j.Problem != nil || time.Now().After(until):
			t.Fatalf("job %d: status %d: %.300s", seed, status, body)
		case j.State != "done":
			continue
		}
		if status, want := asked(t, http.MethodPost, p.URL("/v1/scenarios"), raced(seed), ""); !bytes.Equal(bytes.TrimSpace(want), j.Result) {
			t.Errorf("job %d came to something else than its call, which is answered %d%s", seed, status, firstDifference(j.Result, bytes.TrimSpace(want)))
		}
		return
	}
}

// firstDifference shows two texts from shortly before where they part.
func firstDifference(got, want []byte) string {
	at := 0
	for at < min(len(got), len(want)) && got[at] == want[at] {
		at++
	}
	from := max(0, at-100)
	return fmt.Sprintf(" from byte %d on:\n%.300s\n%.300s", at, got[min(from, len(got)):], want[min(from, len(want)):])
}
