package trials

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"testing"
	"time"

	"parcours.example/internal/replica"
)

// seasonFile reads a course of the season.
func seasonFile(t testing.TB, name string) []byte {
	t.Helper()
	content, err := os.ReadFile("../../testdata/season/" + name + ".gpx")
	if err != nil {
		t.Fatal(err)
	}
	return content
}

// caller sends requests to a replica, each on a connection that nobody else is using.
type caller struct {
	p      *replica.Process
	client *http.Client
	// ids are those of courses that the replica has analysed.
	ids []string
	lap []byte
}

// stranger is a caller who knows no course.
func stranger(t testing.TB, p *replica.Process) *caller {
	t.Helper()
	transport := &http.Transport{MaxIdleConnsPerHost: 1000, DisableCompression: true}
	t.Cleanup(transport.CloseIdleConnections)
	return &caller{p: p, client: &http.Client{Transport: transport, Timeout: replica.Patience}, lap: seasonFile(t, "quellmere-criterium-lap")}
}

// newCaller makes a caller and some courses known.
func newCaller(t testing.TB, p *replica.Process) *caller {
	t.Helper()
	c := stranger(t, p)
	for _, name := range []string{"quellmere-criterium-lap", "hoskerrow-eight-lap", "skarnholt-hill-climb", "brambleseth-time-trial", "morvask-laps-and-climb"} {
		var course struct {
			CourseID string `json:"course_id"`
		}
		status, _, body := c.post(t.Context(), "/v1/courses", "application/gpx+xml", seasonFile(t, name))
		if err := json.Unmarshal(body, &course); err != nil || status != "200" {
			t.Fatalf("%s: %s: %.300s", name, status, body)
		}
		c.ids = append(c.ids, course.CourseID)
	}
	return c
}

// post sends a body; the status of what didn't come to an answer is its error.
func (c *caller) post(ctx context.Context, path, mediaType string, body []byte) (status string, header http.Header, answer []byte) {
	return c.exchange(ctx, http.MethodPost, path, mediaType, bytes.NewReader(body))
}

func (c *caller) get(ctx context.Context, path string) (status string, answer []byte) {
	status, _, answer = c.exchange(ctx, http.MethodGet, path, "", http.NoBody)
	return status, answer
}

func (c *caller) exchange(ctx context.Context, method, path, mediaType string, body io.Reader) (string, http.Header, []byte) {
	r, err := http.NewRequestWithContext(ctx, method, c.p.URL(path), body)
	if err != nil {
		return err.Error(), nil, nil
	}
	if mediaType != "" {
		r.Header.Set("Content-Type", mediaType)
	}
	reply, err := c.client.Do(r)
	if err != nil {
		return err.Error(), nil, nil
	}
	defer reply.Body.Close()
	answer, err := io.ReadAll(reply.Body)
	if err != nil {
		return err.Error(), nil, nil
	}
	return fmt.Sprint(reply.StatusCode), reply.Header, answer
}

// turnedAway is the class of what was refused as it should be: 429 or 503 with Retry-After.
const turnedAway = "refused"

// class is the class of an outcome.
func class(status string, header http.Header) string {
	if (status == "503" || status == "429") && header.Get("Retry-After") != "" {
		return turnedAway
	}
	return status
}

// mixed sends request i of a mix in which none is like another, so that nothing is answered
// from memory: of 20, 14 ask for a prediction, and 2 each for a course, a plan and a brief.
func (c *caller) mixed(ctx context.Context, seed uint64, i int) string {
	random := rand.New(rand.NewPCG(seed, uint64(i)))
	rider := fmt.Sprintf(`"riders":[{"mass_kg":%.6f,"critical_power_w":%d,"w_prime_j":18000,"max_power_w":900}]`, 55+40*random.Float64(), 200+random.IntN(150))
	course := fmt.Sprintf(`"course":{"course_id":"%s"}`, c.ids[random.IntN(len(c.ids))])
	ask := func(path, course, more string) string {
		status, header, _ := c.post(ctx, path, "application/json", fmt.Appendf(nil, `{%s,%s%s}`, course, rider, more))
		return class(status, header)
	}
	switch kind := random.IntN(20); {
	case kind < 14:
		return ask("/v1/predictions", course, `,"effort":{"kind":"fraction","of_critical_power":0.9}`)
	case kind < 16:
		status, header, _ := c.post(ctx, fmt.Sprintf("/v1/courses?name=%d-%d", seed, i), "application/gpx+xml", c.lap)
		return class(status, header)
	case kind < 18:
		return ask("/v1/plans", fmt.Sprintf(`"course":{"course_id":"%s"}`, c.ids[2]), "")
	default:
		return ask("/v1/briefs", course, `,"effort":{"kind":"fraction","of_critical_power":0.9}`)
	}
}

// closedLoop has n callers send the mix, each as soon as it is answered, and returns how many
// answers a second there were.
func (c *caller) closedLoop(ctx context.Context, n int, span time.Duration, seed uint64) float64 {
	ctx, stop := context.WithTimeout(ctx, span)
	defer stop()
	answered := make(chan int, n)
	for k := range n {
		go func() {
			good := 0
			for i := 0; ctx.Err() == nil; i++ {
				if c.mixed(ctx, seed+uint64(k), i) == "200" {
					good++
				}
			}
			answered <- good
		}()
	}
	good := 0
	for range n {
		good += <-answered
	}
	return float64(good) / span.Seconds()
}
