package trials

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"os"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/redis/go-redis/v9"

	"parcours.example/internal/redistest"
	"parcours.example/internal/replica"
)

// The capacity plan of deploy/CAPACITY.md: what each kind of call costs a replica in processor
// time, which hardly depends on what else the machine does, in memory, and in Redis. The file
// that PARCOURS_CAPACITY names is written anew, with the users that this is enough for.
func TestCapacity(t *testing.T) {
	server := redistest.Start(t)
	s := &subject{t: t, process: launched(t, "PARCOURS_REDIS_URL="+server.URL(), "PARCOURS_WORKERS=2", "PARCOURS_QUEUE_WAIT=60s", "PARCOURS_WRITE_TIMEOUT=10m"), redis: server.Client()}
	s.course = s.analyse(gpx(0, 4000))
	budget := time.Duration(0) // a few calls each
	if os.Getenv("PARCOURS_FULL") == "1" {
		budget = 3 * time.Second
	}
	costs := map[string]cost{}
	for _, k := range kinds {
		if k.long && budget == 0 {
			continue
		}
		c := s.measure(k, budget)
		costs[k.name] = c
		t.Logf("%s: %.2f ms, %.1f MB allocated, %d MB more resident, %.1f kB sent, %.1f kB in Redis", k.name, 1e3*c.processorS, c.allocatedBytes/1e6, int(c.residentBytes/1e6), c.sentBytes/1e3, c.redisBytes/1e3)
	}
	name := os.Getenv("PARCOURS_CAPACITY")
	if name == "" || budget == 0 {
		return
	}
	if err := os.WriteFile(name, []byte(capacityPlan(costs)), 0o600); err != nil {
		t.Fatal(err)
	}
}

// kind is a kind of call. ask makes the i-th of its requests; each is another one unless
// the kind is of what was asked before.
type kind struct {
	name, says string
	// long kinds are measured in full runs alone.
	long bool
	ask  func(s *subject, i int) *http.Request
}

var kinds = []kind{
	{name: "kept", says: "a course analysed before, by GET", ask: func(s *subject, _ int) *http.Request { return s.get("/v1/courses/" + s.course) }},
	{name: "asked", says: "a prediction asked before", ask: func(s *subject, _ int) *http.Request {
		return s.post("/v1/predictions", `{"course":%s,"riders":[{"mass_kg":72}],"effort":{"kind":"power","power_w":250}}`)
	}},
	{name: "page", says: "a file of the page", ask: func(s *subject, _ int) *http.Request { return s.get("/") }},
	{name: "prediction", says: "a prediction, one rider, 40 km", ask: func(s *subject, i int) *http.Request {
		return s.post("/v1/predictions", `{"course":%s,"riders":[{"mass_kg":%s}],"effort":{"kind":"power","power_w":250}}`, mass(i))
	}},
	{name: "plan", says: "a plan, one rider, 40 km", ask: func(s *subject, i int) *http.Request {
		return s.post("/v1/plans", `{"course":%s,"riders":[{"mass_kg":%s,"critical_power_w":260,"w_prime_j":18000}]}`, mass(i))
	}},
	{name: "brief", says: "a brief as text, two riders", ask: func(s *subject, i int) *http.Request {
		r := s.post("/v1/briefs", `{"course":%s,"riders":[{"mass_kg":%s,"power_w":250},{"mass_kg":82,"power_w":300}]}`, mass(i))
		r.Header.Set("Accept", "text/plain")
		return r
	}},
	{name: "picture", says: "a profile as SVG", ask: func(s *subject, i int) *http.Request {
		return s.get(fmt.Sprintf("/v1/courses/%s/profile?width=%d&height=%d", s.course, 500+i%1000, 300+i/1000))
	}},
	{name: "scenario", says: "a race of 20 riders, 40 runs, 40 km", ask: func(s *subject, i int) *http.Request {
		return s.post("/v1/scenarios", `{"course":%s,"drawn":[{"name":"Bunch","count":20}],"rules":{"runs":40,"seed":%s}}`, strconv.Itoa(i+1))
	}},
	{name: "small", says: "a new course, 1,000 points (10 km)", ask: func(s *subject, i int) *http.Request { return s.file(gpx(i+1, 1000)) }},
	{name: "medium", says: "a new course, 10,000 points (100 km)", ask: func(s *subject, i int) *http.Request { return s.file(gpx(i+1, 10_000)) }},
	{name: "large", says: "a new course, 100,000 points (1,000 km)", long: true, ask: func(s *subject, i int) *http.Request { return s.file(gpx(i+1, 100_000)) }},
}

// mass is a mass in kg that no other request of a kind has.
func mass(i int) string { return strconv.FormatFloat(50+math.Mod(float64(i)*0.0137, 60), 'f', 4, 64) }

// cost is what one call of a kind costs.
type cost struct {
	processorS     float64
	allocatedBytes float64
	// residentBytes is how much more memory the whole process held while two calls at a time
	// ran than before; what it keeps of them is in it.
	residentBytes float64
	// sentBytes is the answer's size as sent, gzipped; redisBytes what it takes in Redis.
	sentBytes, redisBytes float64
}

// subject is the replica that is measured, with its Redis and a course of 40 km.
type subject struct {
	t       *testing.T
	process *replica.Process
	redis   *redis.Client
	course  string
}

// measure asks two at a time until so much of a processor is used up.
func (s *subject) measure(k kind, budget time.Duration) cost {
	s.t.Helper()
	s.ask(k, 0)
	keys, stored := s.settled()
	before := s.forgetPeak()
	processor, allocated := s.process.Metric("process_cpu_seconds_total"), s.process.Metric("go_memstats_alloc_bytes_total")
	batch := 1
	if budget > 0 {
		batch = 4 // a look at the clock of the process costs about as much as a small call
	}
	calls, sent := 0, atomic.Int64{}
	for used := 0.0; calls == 0 || used < budget.Seconds(); used = s.process.Metric("process_cpu_seconds_total") - processor {
		var flying sync.WaitGroup
		for worker := range 2 {
			flying.Go(func() {
				for i := range batch {
					sent.Add(int64(s.ask(k, 1+calls+2*i+worker)))
				}
			})
		}
		flying.Wait()
		calls += 2 * batch
	}
	n := float64(calls)
	c := cost{
		processorS:     (s.process.Metric("process_cpu_seconds_total") - processor) / n,
		allocatedBytes: (s.process.Metric("go_memstats_alloc_bytes_total") - allocated) / n,
		residentBytes:  s.peak() - before, sentBytes: float64(sent.Load()) / n,
	}
	if newKeys, newStored := s.settled(); newKeys > keys {
		c.redisBytes = (newStored - stored) / float64(newKeys-keys)
	}
	return c
}

// ask sends a request and returns the size of its answer, gzipped as browsers want it.
func (s *subject) ask(k kind, i int) int {
	r := k.ask(s, i)
	r.Header.Set("Accept-Encoding", "gzip")
	status, body := s.send(r)
	if status != http.StatusOK {
		s.t.Errorf("%s: status %d: %.300s", k.name, status, body)
	}
	return len(body)
}

func (s *subject) send(r *http.Request) (status int, body []byte) {
	reply, err := http.DefaultClient.Do(r)
	if err != nil {
		s.t.Error(err)
		return 0, nil
	}
	defer reply.Body.Close()
	if body, err = io.ReadAll(reply.Body); err != nil {
		s.t.Error(err)
	}
	return reply.StatusCode, body
}

func (s *subject) get(path string) *http.Request {
	return s.request(http.MethodGet, path, "", nil)
}

// post asks about the subject's course, which is the first %s of the body.
func (s *subject) post(path, body string, more ...any) *http.Request {
	course := fmt.Sprintf(`{"course_id":%q}`, s.course)
	return s.request(http.MethodPost, path, "application/json", fmt.Appendf(nil, body, append([]any{course}, more...)...))
}

func (s *subject) file(course []byte) *http.Request {
	return s.request(http.MethodPost, "/v1/courses", "application/gpx+xml", course)
}

func (s *subject) request(method, path, mediaType string, body []byte) *http.Request {
	r, err := http.NewRequestWithContext(context.Background(), method, s.process.URL(path), bytes.NewReader(body))
	if err != nil {
		s.t.Error(err)
	}
	if mediaType != "" {
		r.Header.Set("Content-Type", mediaType)
	}
	return r
}

// analyse sends a course and returns its id.
func (s *subject) analyse(course []byte) string {
	s.t.Helper()
	status, body := s.send(s.file(course))
	var c struct {
		ID string `json:"course_id"`
	}
	if err := json.Unmarshal(body, &c); err != nil || status != http.StatusOK {
		s.t.Fatalf("status %d, %v: %.300s", status, err, body)
	}
	return c.ID
}

// forgetPeak lets the peak of the process's memory begin anew, where the system can, and returns
// what it starts from.
func (s *subject) forgetPeak() float64 {
	_ = os.WriteFile(fmt.Sprintf("/proc/%d/clear_refs", s.process.PID()), []byte("5"), 0) // else it is that of all kinds so far
	return s.peak()
}

// peak is the most memory in bytes that the process has held since.
func (s *subject) peak() float64 {
	status, _ := os.ReadFile(fmt.Sprintf("/proc/%d/status", s.process.PID())) // 0 where there is none
	m := regexp.MustCompile(`VmHWM:\s+(\d+) kB`).FindSubmatch(status)
	if m == nil {
		return 0
	}
	kib, _ := strconv.ParseFloat(string(m[1]), 64) // digits
	return kib * 1024
}

// redisUse returns how many keys Redis holds, and the bytes that it uses.
func (s *subject) redisUse() (keys int64, bytes float64) {
	for line := range strings.Lines(s.redis.Info(s.t.Context(), "memory").Val()) {
		if n, found := strings.CutPrefix(strings.TrimSpace(line), "used_memory_dataset:"); found {
			bytes, _ = strconv.ParseFloat(n, 64) // digits
		}
	}
	return s.redis.DBSize(s.t.Context()).Val(), bytes
}

// settled is redisUse once nothing is written any more.
func (s *subject) settled() (keys int64, bytes float64) {
	for before := int64(-1); before != keys; {
		before = keys
		time.Sleep(50 * time.Millisecond) // writes go on in the background, and nothing tells of their end
		keys, bytes = s.redisUse()
	}
	return keys, bytes
}

// gpx is a course of n points 10 m apart, of rolling hills on a winding road, that differs from
// any other i's.
func gpx(i, n int) []byte {
	var b bytes.Buffer
	b.WriteString(`<gpx version="1.1" creator="trial" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>`)
	latitude, longitude := 45+float64(i)*1e-5, 7.0
	for k := range n {
		m := float64(k) * 10
		heading := 0.8*math.Sin(m/900) + 0.5*math.Sin(m/230)
		latitude += 10 * math.Cos(heading) / 111_000
		longitude += 10 * math.Sin(heading) / 78_000
		elevation := 400 + 120*math.Sin(m/2700) + 25*math.Sin(m/700)
		fmt.Fprintf(&b, `<trkpt lat="%.6f" lon="%.6f"><ele>%.1f</ele></trkpt>`, latitude, longitude, elevation)
	}
	b.WriteString(`</trkseg></trk></gpx>`)
	return b.Bytes()
}
