package trials

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"parcours.example/internal/figures"
	"parcours.example/internal/openloop"
	"parcours.example/internal/redistest"
	"parcours.example/internal/replica"
	"parcours.example/internal/seeded"
)

// overCluster starts replicas over a Cluster of three masters.
func overCluster(t *testing.T, n int) []*replica.Process {
	t.Helper()
	if testing.Short() {
		t.Skip("builds and runs the program")
	}
	var urls []string
	for _, s := range redistest.StartCluster(t) {
		urls = append(urls, s.URL())
	}
	replicas := make([]*replica.Process, n)
	for i := range replicas {
		replicas[i] = launched(t, "PARCOURS_REDIS_URL="+strings.Join(urls, ","))
	}
	return replicas
}

// computed counts how often a stage of the engine ran, on all replicas.
func computed(stage string, replicas ...*replica.Process) (n float64) {
	for _, p := range replicas {
		n += p.Metric("parcours_engine_seconds", "stage", stage)
	}
	return n
}

// Ten replicas behave as one: what one of them analysed no other analyses again, but once each
// where they are asked at the same moment, and all answer with the same bytes.
func TestReplicasBehaveAsOne(t *testing.T) {
	n, courses := 3, 4
	if inFull() {
		n, courses = 10, 40
	}
	replicas := overCluster(t, n)
	client := &http.Client{}
	defer client.CloseIdleConnections()
	calls := callsAboutCourses(t, client, courses)
	once, again, most := 0, 0.0, 0.0
	for i, c := range calls {
		first := replicas[i%n]
		before := computed("terrain", replicas...)
		if i%4 >= 2 { // asked of all at the same time
			var all sync.WaitGroup
			for _, p := range replicas {
				all.Go(func() {
					if fault := c.send(t.Context(), client, p); fault != "" {
						t.Error(fault)
					}
				})
			}
			all.Wait()
			if times := computed("terrain", replicas...) - before; times > float64(n) {
				t.Errorf("%s: analysed %v times by %d replicas", c.path, times, n)
			} else {
				most = max(most, times)
			}
			continue
		}
		if fault := c.send(t.Context(), client, first); fault != "" {
			t.Fatal(fault)
		}
		writes := func() float64 { return first.Metric("parcours_redis_writes_total", "outcome", "done") }
		first.Await("what was computed to be shared", func() bool { return writes() > 0 })
		for _, p := range replicas {
			if fault := c.send(t.Context(), client, p); fault != "" {
				t.Error(fault)
			}
		}
		if times := computed("terrain", replicas...) - before; times <= 1 {
			once++
		} else {
			again += times - 1
		}
	}
	asked := len(calls) / 2
	if once == 0 { // Redis may be too slow for a reader now and then, not each time
		t.Errorf("none of %d courses was analysed but once", asked)
	}
	figures.Report(t, "replicas", "%d replicas over a Cluster of 3: %d of %d courses analysed once in all, %v analyses more of the others; at most %v times where all were asked at once; every byte and tag the same",
		n, once, asked, again, most)
}

// retrying asks replicas one after the other until one answers, as a client does that knows
// more than one address.
type retrying struct {
	client   *http.Client
	replicas []*replica.Process
}

// attempts bounds the tries of a request.
const attempts = 4

// send asks for the wanted answer, the replicas from one on in turn.
func (r *retrying) send(ctx context.Context, c *call, from int) (class string) {
	fault := ""
	for k := range attempts {
		p := r.replicas[(from+k)%len(r.replicas)]
		if fault = c.send(ctx, r.client, p); fault == "" {
			return "200"
		}
		if strings.HasPrefix(fault, "the wrong bytes") {
			break
		}
	}
	return fault
}

// One of three replicas is killed under load: callers who ask another one then notice nothing.
func TestKilledReplicaFailsNobody(t *testing.T) {
	rate, lasting := 60.0, 2*time.Second
	if inFull() {
		rate, lasting = 100, time.Minute
	}
	replicas := overCluster(t, 3)
	client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 64}}
	defer client.CloseIdleConnections()
	calls := callsAboutCourses(t, client, 30)
	r := &retrying{client, replicas}
	killed := time.AfterFunc(lasting/2, replicas[1].Kill)
	defer killed.Stop()
	result := openloop.Run(t.Context(), openloop.Load{PerSecond: rate, For: lasting, Seed: seeded.First(t), Send: func(_ context.Context, i int) string {
		return r.send(t.Context(), calls[i%len(calls)], i)
	}})
	<-replicas[1].Exited()
	for class, n := range result.Counts() {
		if class != "200" {
			t.Errorf("%d of %d: %s", n, len(result.Outcomes), class)
		}
	}
	before, after := result.Between(0, lasting/2), result.Between(lasting/2, lasting)
	figures.Report(t, "replicas", "one of 3 killed (SIGKILL) under %.0f requests a second: %d of %d failed for callers who ask again elsewhere; p99 %v before, %v after",
		rate, len(result.Outcomes)-result.Counts()["200"], len(result.Outcomes), before.Quantile("", 0.99).Round(100*time.Microsecond), after.Quantile("", 0.99).Round(100*time.Microsecond))
}

// herd is a request that many send at the same moment.
type herd struct {
	name, stage, path, contentType, body string
}

// herds ask each for another kind of work. The last digit of a number tells them apart.
func herds(digit int) []herd {
	course := fmt.Sprintf(`"course":{"profile":{"distance_m":[0,5000,9000,3000%d],"elevation_m":[100,300,250,100]},"options":{"smoothing":"none"}}`, digit)
	rider := `"riders":[{"name":"Nour","mass_kg":61,"critical_power_w":245,"w_prime_j":15000,"max_power_w":800}]`
	const object = "application/json"
	return []herd{
		{"course", "terrain", fmt.Sprintf("/v1/courses?name=Herd%d", digit), "text/csv", string(gpxTable(4000))},
		{"prediction", "ride", "/v1/predictions?include=trace", object, `{` + course + `,` + rider + `,"effort":{"kind":"power","power_w":230}}`},
		{"plan", "plan", "/v1/plans", object, `{` + course + `,` + rider + `}`},
		{"scenario", "race", "/v1/scenarios", object, `{` + course + `,"drawn":[{"name":"Bunch","count":20}],"rules":{"runs":20}}`},
	}
}

// gpxTable is a course of n samples, as a table.
func gpxTable(n int) []byte {
	var b bytes.Buffer
	b.WriteString("distance_m,elevation_m\n")
	for i := range n {
		fmt.Fprintf(&b, "%d,%d\n", 10*i, 100+i%700)
	}
	return b.Bytes()
}

// T14: what a thousand ask at the same moment is computed once, all get the same, and the
// first of them who leaves doesn't fail the others.
func TestT14ThunderingHerd(t *testing.T) {
	callers := 100
	if inFull() {
		callers = 1000
	}
	p := launched(t, "PARCOURS_QUEUE_WAIT=10m")
	client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: callers, MaxConnsPerHost: 0}}
	defer client.CloseIdleConnections()
	alone, together := herds(1), herds(2)
	worked := 0.0
	for i, h := range together {
		before := computed(h.stage, p)
		if _, fault := alone[i].send(t.Context(), client, p); fault != "" {
			t.Fatalf("%s: %s", h.name, fault)
		}
		by := computed(h.stage, p) - before // how often the stage runs for one
		first, leave := context.WithCancel(t.Context())
		var all sync.WaitGroup
		var mu sync.Mutex
		bodies := map[string]int{}
		all.Go(func() { _, _ = h.send(first, client, p) }) // leaves, and gets nothing or the answer
		for range callers - 1 {
			all.Go(func() {
				body, fault := h.send(t.Context(), client, p)
				if fault != "" {
					t.Errorf("%s: %s", h.name, fault)
				}
				mu.Lock()
				defer mu.Unlock()
				bodies[body]++
			})
		}
		leave()
		all.Wait()
		if len(bodies) != 1 {
			t.Errorf("%s: %d different answers", h.name, len(bodies))
		}
		times := (computed(h.stage, p) - before - by) / by
		// The first may have left before another came: what nobody waits for is given up.
		if times > 2 || times < 1 {
			t.Errorf("%s: computed %v times for %d callers", h.name, times, callers)
		}
		worked = max(worked, times)
	}
	figures.Report(t, "T14", "%d callers at once, cold, one of whom leaves, for a course, a prediction, a plan and a scenario: each computed at most %v times, all answers equal, 0 failed", callers, worked)
}

// send asks a replica for what a herd wants and returns the answer.
func (h herd) send(ctx context.Context, client *http.Client, p *replica.Process) (body, fault string) {
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, p.URL(h.path), strings.NewReader(h.body))
	if err != nil {
		return "", err.Error()
	}
	r.Header.Set("Content-Type", h.contentType)
	reply, err := client.Do(r)
	if err != nil {
		return "", err.Error()
	}
	defer reply.Body.Close() //nolint:errcheck // read
	content, err := io.ReadAll(reply.Body)
	if err != nil || reply.StatusCode != http.StatusOK {
		return "", fmt.Sprintf("status %d, %v: %.300s", reply.StatusCode, err, content)
	}
	return string(content), ""
}
