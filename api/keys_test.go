package api_test

import (
	"io"
	"log/slog"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"parcours.example/api"
	"parcours.example/service/engine"
	"parcours.example/service/keys"
	"parcours.example/service/quota"
)

// aKey is the key of keyFile's client.
const aKey = "parcours_AAAABBBBCCCCDDDDEEEEFFFFGG"

// keyFile is a file of one client, "bot", with aKey.
func keyFile(t testing.TB, limits quota.Limits) *keys.File {
	t.Helper()
	return keysIn(t, keys.Line(keys.Client{Name: "bot", Limits: limits}, aKey))
}

// keysIn is a file of keys with lines.
func keysIn(t testing.TB, lines ...string) *keys.File {
	t.Helper()
	name := filepath.Join(t.TempDir(), "keys")
	if err := os.WriteFile(name, []byte(strings.Join(lines, "\n")+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	f, err := keys.Open(name, slog.New(slog.DiscardHandler), nil)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// counter counts in this process.
func counter(t testing.TB) *quota.Counter {
	t.Helper()
	c, err := quota.New(quota.Config{})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// withKey is a small request of a call that needs a key.
func withKey(authorization ...string) *http.Request {
	r := request(http.MethodPost, "/v1/riders/fit", "application/json", []byte(`{}`))
	r.Header["Authorization"] = authorization
	return r
}

// What isn't a known key, sent as one, in one field, opens nothing.
func TestKeys(t *testing.T) {
	h := newHarnessOf(t, engine.Config{}, api.Config{Keys: keyFile(t, quota.Limits{}), Quotas: counter(t)})
	for _, c := range []struct {
		fields []string
		status int
		code   string
	}{
		{[]string{"Bearer " + aKey}, 400, ""}, // let in; the request itself is wrong
		{[]string{"bearer " + aKey}, 400, ""},
		{[]string{"BEARER   " + aKey}, 400, ""},
		{nil, 401, "missing"},
		{[]string{""}, 401, "missing"},
		{[]string{"Bearer"}, 401, "missing"},
		{[]string{"Bearer "}, 401, "missing"},
		{[]string{aKey}, 401, "missing"},
		{[]string{"Basic " + aKey}, 401, "missing"},
		{[]string{"Bearer" + aKey}, 401, "missing"},
		{[]string{"Bearer " + aKey, "Bearer " + aKey}, 401, "missing"},
		{[]string{"Bearer " + aKey, ""}, 401, "missing"},
		{[]string{"Bearer " + aKey + ", Bearer " + aKey}, 401, "unknown"},
		{[]string{"Bearer " + aKey + "x"}, 401, "unknown"},
		{[]string{"Bearer " + aKey[:len(aKey)-1]}, 401, "unknown"},
		{[]string{"Bearer " + strings.ToLower(aKey)}, 401, "unknown"},
		{[]string{"Bearer \t" + aKey}, 401, "unknown"},
		{[]string{"Bearer " + aKey + " "}, 401, "unknown"},
		{[]string{"Bearer \x00" + aKey}, 401, "unknown"},
		{[]string{"Bearer " + strings.Repeat("A", 60_000)}, 401, "unknown"},
		{[]string{`Bearer "` + aKey + `"`}, 401, "unknown"},
	} {
		w := h.send(t, withKey(c.fields...))
		if w.Code != c.status {
			t.Errorf("%.80q: status %d, want %d", c.fields, w.Code, c.status)
			continue
		}
		if c.status != http.StatusUnauthorized {
			continue
		}
		p := checkProblem(t, w, "key-required")
		fault := p["errors"].([]any)[0].(map[string]any)
		challenge := w.Header().Get("WWW-Authenticate")
		if fault["code"] != c.code || !strings.HasPrefix(challenge, "Bearer ") || strings.Contains(challenge, "invalid_token") != (c.code == "unknown") {
			t.Errorf("%.80q: %v, challenge %q", c.fields, fault, challenge)
		}
		if strings.Contains(w.Body.String(), aKey[:20]) {
			t.Errorf("the problem repeats the key: %s", w.Body)
		}
	}
	figures := h.serve(request(http.MethodGet, "/metrics", "", nil)).Body.String()
	for _, want := range []string{`parcours_keys_checks_total{key="known"} 3`, `parcours_keys_checks_total{key="missing"} 9`, `parcours_keys_checks_total{key="unknown"} 9`} {
		if !strings.Contains(figures, want) {
			t.Errorf("no %s", want)
		}
	}
}

// A key in the address is none, and no parameter of any call.
func TestKeyInTheAddress(t *testing.T) {
	h := newHarnessOf(t, engine.Config{}, api.Config{Keys: keyFile(t, quota.Limits{}), Quotas: counter(t)})
	for _, name := range []string{"key", "access_token", "authorization"} {
		r := withKey()
		r.URL.RawQuery = name + "=" + aKey
		checkProblem(t, h.send(t, r), "key-required")
		r = withKey("Bearer " + aKey)
		r.URL.RawQuery = name + "=" + aKey
		checkProblem(t, h.send(t, r), "invalid-request")
	}
	if strings.Contains(h.log.String(), aKey[:20]) {
		t.Errorf("a key is in the log:\n%s", h.log)
	}
}

// With keys, everything that computes needs one; what people read, and health, doesn't.
func TestWhatNeedsAKey(t *testing.T) {
	h := newHarnessOf(t, engine.Config{}, api.Config{Keys: keyFile(t, quota.Limits{}), Quotas: counter(t)})
	variables := strings.NewReplacer("{course_id}", strings.Repeat("0", 32), "{asset}", "main.js", "{demo}", "no-such-demo", "{name}", "busy", "{job_id}", strings.Repeat("A", 26))
	for id, c := range calls(t) {
		w := h.send(t, request(c.method, variables.Replace(c.path), "application/json", []byte("{}")))
		needs := strings.HasPrefix(c.path, "/v1/")
		counted := needs && !strings.HasPrefix(c.path, "/v1/jobs/")
		if (w.Code == http.StatusUnauthorized) != needs || (c.responses.Value("401") != nil) != needs || (c.responses.Value("429") != nil) != counted {
			t.Errorf("%s: status %d without a key; needs one: %v, says so: %v", id, w.Code, needs, c.responses.Value("401") != nil)
		}
	}
	for _, r := range []*http.Request{request("HEAD", "/v1/courses/"+strings.Repeat("0", 32), "", nil)} {
		if w := h.serve(r); w.Code != http.StatusUnauthorized {
			t.Errorf("%s %s: status %d", r.Method, r.URL, w.Code)
		}
	}
}

// Without a file of keys nobody is asked for one, and one that is sent means nothing.
func TestNoKeysNoQuestion(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for _, fields := range [][]string{nil, {"Bearer x"}, {"Bearer x", "Basic y"}} {
		if w := h.send(t, withKey(fields...)); w.Code != http.StatusBadRequest || w.Header().Get("RateLimit") != "" {
			t.Errorf("%q: status %d, %v", fields, w.Code, w.Header())
		}
	}
}

// stuckBody is a body that must not be read.
type stuckBody struct{ t *testing.T }

func (b stuckBody) Read([]byte) (int, error) {
	b.t.Error("the body is read")
	return 0, io.EOF
}

// A stranger, or a caller without quota, can't make the service read a body.
func TestNoBodyIsReadForStrangers(t *testing.T) {
	h := newHarnessOf(t, engine.Config{}, api.Config{Keys: keyFile(t, quota.Limits{PerMinute: 10}), Quotas: counter(t)})
	for range 10 {
		h.serve(withKey("Bearer " + aKey))
	}
	for authorization, want := range map[string]string{"": "key-required", "Bearer " + aKey: "quota-exceeded"} {
		r := httptest.NewRequest(http.MethodPost, "/v1/courses", stuckBody{t})
		r.Header.Set("Authorization", authorization)
		checkProblem(t, h.send(t, r), want)
	}
}

// Every counted reply says what is left; the call that is too much says when to come back, and
// costs nothing.
func TestQuotas(t *testing.T) {
	h := newHarnessOf(t, engine.Config{}, api.Config{Keys: keyFile(t, quota.Limits{PerMinute: 20, PerDay: 1000}), Quotas: counter(t)})
	fields := regexp.MustCompile(`^"minute";r=(\d+);t=(\d+), "day";r=(\d+);t=(\d+)$`)
	for i := range 25 {
		r := withKey("Bearer " + aKey)
		if i == 0 { // one of 10
			r = request(http.MethodPost, "/v1/scenarios", "application/json", []byte("{}"))
			r.Header.Set("Authorization", "Bearer "+aKey)
		}
		w := h.send(t, r)
		left := fields.FindStringSubmatch(w.Header().Get("RateLimit"))
		if left == nil || w.Header().Get("RateLimit-Policy") != `"minute";q=20;w=60, "day";q=1000;w=86400` {
			t.Fatalf("%v", w.Header())
		}
		number := func(i int) int { n, _ := strconv.Atoi(left[i]); return n }
		used := min(10+i, 20)
		if number(1) != 20-used || number(3) != 1000-used || number(2) > 60 || number(2) < 30 || number(4) > 86400 || number(4) < 86000 {
			t.Errorf("call %d: %q", i, left[0])
		}
		if i <= 10 {
			if w.Code != http.StatusBadRequest {
				t.Errorf("call %d: status %d", i, w.Code)
			}
			continue
		}
		checkProblem(t, w, "quota-exceeded")
		if wait, err := strconv.Atoi(w.Header().Get("Retry-After")); err != nil || wait < number(2) || wait > number(2)+10 {
			t.Errorf("call %d: Retry-After %q with %q", i, w.Header().Get("Retry-After"), left[0])
		}
	}
	if w := h.send(t, withKey("Bearer wrong")); w.Header().Get("RateLimit") != "" {
		t.Errorf("a stranger learns of quotas: %v", w.Header())
	}
	if !strings.Contains(h.log.String(), `"client":"bot","window":"minute"`) {
		t.Errorf("the log doesn't name the client:\n%s", h.log)
	}
}

// Those who are refused together are told to come back apart.
func TestRetriesAreSpread(t *testing.T) {
	h := newHarnessOf(t, engine.Config{}, api.Config{Keys: keyFile(t, quota.Limits{PerMinute: 10}), Quotas: counter(t)})
	waits := map[string]bool{}
	for range 210 {
		if w := h.serve(withKey("Bearer " + aKey)); w.Code == http.StatusTooManyRequests {
			waits[w.Header().Get("Retry-After")] = true
		}
	}
	if len(waits) < 5 { // of 11 that are equally likely
		t.Errorf("200 are told to wait %v s", waits)
	}
}

// The contract's costs are those that quotas are held to.
func TestCosts(t *testing.T) {
	doc, err := loadDoc()
	if err != nil {
		t.Fatal(err)
	}
	for path, item := range doc.Paths.Map() {
		for method, op := range item.Operations() {
			cost, told := op.Extensions["x-cost"].(float64)
			if told != (op.Security != nil) || told && (cost < 1 && !strings.HasPrefix(path, "/v1/jobs/") || cost < 0 || cost > quota.MostCost || cost != math.Trunc(cost)) {
				t.Errorf("%s %s: x-cost %v", method, path, op.Extensions["x-cost"])
			}
		}
	}
}
