package api_test

import (
	"net/http"
	"strings"
	"testing"

	"parcours.example/api"
	"parcours.example/service/engine"
	"parcours.example/service/quota"
)

// from is a request of a page of an origin.
func from(origin string, r *http.Request) *http.Request {
	r.Header.Set("Origin", origin)
	return r
}

// preflight asks as a browser does before a page of an origin sends JSON with a key.
func preflight(origin, method string) *http.Request {
	r := from(origin, request(http.MethodOptions, "/v1/predictions", "", nil))
	r.Header.Set("Access-Control-Request-Method", method)
	r.Header.Set("Access-Control-Request-Headers", "authorization,content-type")
	return r
}

// Pages of listed origins may call and read what they need; no others.
func TestOrigins(t *testing.T) {
	const listed = "https://league.example"
	h := newHarnessOf(t, engine.Config{}, api.Config{Origins: []string{listed, "http://localhost:3000"}, Keys: keyFile(t, quota.Limits{}), Quotas: counter(t)})
	for origin, may := range map[string]bool{
		listed: true, "http://localhost:3000": true, "https://league.example.evil.example": false, "http://league.example": false,
		"https://league.example:8443": false, "null": false, "": false, "https://LEAGUE.example.": false, "http://localhost:3001": false,
	} {
		w := h.serve(preflight(origin, http.MethodPost))
		if got := w.Header().Get("Access-Control-Allow-Origin"); w.Code != http.StatusNoContent || (got == origin && got != "") != may || !may && got != "" {
			t.Errorf("preflight of %q: status %d, allowed %q", origin, w.Code, got)
		}
		for _, r := range []*http.Request{withKey("Bearer " + aKey), withKey(), request(http.MethodGet, "/nothing", "", nil), request(http.MethodGet, "/docs", "", nil)} {
			w := h.send(t, from(origin, r))
			if got := w.Header().Get("Access-Control-Allow-Origin"); (got == origin && got != "") != may || !may && got != "" {
				t.Errorf("%s of %q: allowed %q", r.URL.Path, origin, got)
			}
			if !strings.Contains(strings.Join(w.Header().Values("Vary"), ","), "Origin") {
				t.Errorf("%s of %q: Vary %q", r.URL.Path, origin, w.Header().Values("Vary"))
			}
			exposed := w.Header().Get("Access-Control-Expose-Headers")
			for _, field := range []string{"ETag", "Request-Id", "RateLimit", "RateLimit-Policy", "Retry-After", "Location", "Preference-Applied"} {
				if may && !strings.Contains(strings.ToLower(exposed), strings.ToLower(field)) {
					t.Errorf("%s isn't exposed: %q", field, exposed)
				}
			}
			if w.Header().Get("Access-Control-Allow-Credentials") != "" {
				t.Error("browsers may send what they hold of the reader")
			}
		}
	}
	if w := h.serve(preflight(listed, http.MethodPut)); w.Header().Get("Access-Control-Allow-Origin") != "" {
		t.Errorf("PUT is allowed: %v", w.Header())
	}
	if w := h.serve(from(listed, request(http.MethodOptions, "/v1/predictions", "", nil))); w.Code != http.StatusMethodNotAllowed {
		t.Errorf("OPTIONS that is no preflight: status %d", w.Code)
	}
}

// A representation says what it depends on, with other origins and without.
func TestVary(t *testing.T) {
	for _, origins := range [][]string{nil, {"https://league.example"}} {
		h := newHarnessOf(t, engine.Config{}, api.Config{Origins: origins})
		vary := strings.Join(h.send(t, request(http.MethodGet, "/docs", "", nil)).Header().Values("Vary"), ", ")
		if !strings.Contains(vary, "Accept, Accept-Encoding") || strings.Contains(vary, "Origin") != (origins != nil) {
			t.Errorf("Vary %q", vary)
		}
	}
}

// Without origins nothing is said of them, and a preflight is a method that isn't there.
func TestNoOrigins(t *testing.T) {
	h := newHarness(t, engine.Config{})
	w := h.serve(preflight("https://league.example", http.MethodPost))
	if w.Code != http.StatusMethodNotAllowed {
		t.Errorf("status %d", w.Code)
	}
	for name := range w.Header() {
		if strings.HasPrefix(name, "Access-Control") {
			t.Errorf("%s is said", name)
		}
	}
}

// An address has its quota, whatever it says of itself; behind a trusted proxy the caller has it,
// and not the proxy.
func TestRatePerAddress(t *testing.T) {
	ask := func(h *harness, remote string, forwarded ...string) int {
		r := withKey()
		r.RemoteAddr = remote
		r.Header["X-Forwarded-For"] = forwarded
		r.Header["X-Real-Ip"] = forwarded
		return h.send(t, r).Code
	}
	const refused, let = http.StatusTooManyRequests, http.StatusBadRequest
	start := func(proxies ...string) *harness {
		return newHarnessOf(t, engine.Config{}, api.Config{PerAddress: quota.MostCost, TrustedProxies: proxies, Quotas: counter(t)})
	}
	fill := func(h *harness, remote string, forwarded ...string) {
		for range quota.MostCost {
			if code := ask(h, remote, forwarded...); code != let {
				t.Fatalf("status %d within the quota", code)
			}
		}
	}
	h := start()
	fill(h, "203.0.113.9:1000")
	for _, forwarded := range [][]string{nil, {"198.51.100.7"}, {"198.51.100.7, 203.0.113.10"}, {"1", "2"}} {
		if code := ask(h, "203.0.113.9:1001", forwarded...); code != refused {
			t.Errorf("forwarded for %q by nobody who is trusted: status %d", forwarded, code)
		}
	}
	if code := ask(h, "203.0.113.10:1000"); code != let {
		t.Errorf("another address: status %d", code)
	}
	fill(h, "[2001:db8:0:1::1]:1000")
	if code := ask(h, "[2001:db8:0:1:ffff::2]:1000"); code != refused {
		t.Errorf("another address of the same /64: status %d", code)
	}
	if code := ask(h, "[2001:db8:0:2::1]:1000"); code != let {
		t.Errorf("the next /64: status %d", code)
	}
	h = start("10.0.0.0/8")
	fill(h, "10.1.2.3:1000", "203.0.113.9")
	for _, forwarded := range []string{"203.0.113.9", "198.51.100.7, 203.0.113.9", "198.51.100.7, 203.0.113.9, 10.9.9.9"} {
		if code := ask(h, "10.9.9.9:1000", forwarded); code != refused {
			t.Errorf("forwarded for %q: status %d", forwarded, code)
		}
	}
	if code := ask(h, "10.1.2.3:1000", "203.0.113.10"); code != let {
		t.Errorf("another caller behind the proxy: status %d", code)
	}
}

func FuzzOrigin(f *testing.F) {
	for _, text := range []string{"https://a.example", "http://[::1]:8080", "https://a.example:443", "https://*.example", "https://a@b", "HTTPS://A"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if !api.CheckOrigin(text) {
			return
		}
		scheme, host, _ := strings.Cut(text, "://")
		if scheme != "http" && scheme != "https" || host == "" || strings.ContainsAny(host, "/?#@* ,\\") {
			t.Errorf("%q is taken for an origin", text)
		}
	})
}
