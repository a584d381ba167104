package api_test

import (
	"net/http"
	"regexp"
	"strings"
	"testing"

	"parcours.example/api"
	"parcours.example/service/engine"
	"parcours.example/service/quota"
)

// The header fields that the OWASP Secure Headers Project asks for
// (https://owasp.org/www-project-secure-headers/, its list of fields to add; the values from
// memory), but for three: Strict-Transport-Security is for whoever holds the certificate,
// Clear-Site-Data is for logging out, and X-Permitted-Cross-Domain-Policies is read by plug-ins
// that are gone. Cache-Control is that of each reply.
func TestSecureHeaders(t *testing.T) {
	h := newHarness(t, engine.Config{})
	every := map[string]string{
		"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer", "Cross-Origin-Resource-Policy": "same-origin",
	}
	shown := map[string]string{ // of what a browser shows as a page
		"X-Frame-Options": "DENY", "Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Embedder-Policy": "require-corp",
	}
	for path, page := range map[string]bool{
		"/": true, "/docs": true, "/problems/busy": true, "/page/main.js": false, "/livez": false, "/openapi.yaml": false, "/nothing": false, "/v1/courses": false,
	} {
		header := h.serve(request(http.MethodGet, path, "", nil)).Header()
		for field, want := range every {
			if got := header.Get(field); got != want {
				t.Errorf("%s: %s %q", path, field, got)
			}
		}
		if policy := header.Get("Content-Security-Policy"); !strings.Contains(policy, "default-src 'none'") || !strings.Contains(policy, "frame-ancestors 'none'") || strings.Contains(policy, "unsafe") {
			t.Errorf("%s: Content-Security-Policy %q", path, policy)
		}
		if header.Get("Cache-Control") == "" {
			t.Errorf("%s: no Cache-Control", path)
		}
		for field, want := range shown {
			if got := header.Get(field); page && got != want {
				t.Errorf("%s: %s %q", path, field, got)
			}
		}
		if got := header.Get("Permissions-Policy"); page && !strings.Contains(got, "geolocation=()") {
			t.Errorf("%s: Permissions-Policy %q", path, got)
		}
		for _, field := range []string{"Server", "X-Powered-By"} { // of the fields to leave out
			if got := header.Get(field); got != "" {
				t.Errorf("%s: %s %q", path, field, got)
			}
		}
	}
}

// The fields of quotas are written as draft-ietf-httpapi-ratelimit-headers-10 has them: lists
// (RFC 9651) of quoted names, of a policy with its quota and window, of a limit with what
// remains and when it is whole again. The grammar is written from the draft's text.
func TestRateLimitFields(t *testing.T) {
	h := newHarnessOf(t, engine.Config{}, api.Config{Keys: keyFile(t, quota.Limits{PerMinute: 600, PerDay: 20000}), Quotas: counter(t)})
	header := h.send(t, withKey("Bearer "+aKey)).Header()
	for field, grammar := range map[string]string{
		"RateLimit-Policy": `^"[a-z]+";q=[0-9]+;w=[0-9]+(, *"[a-z]+";q=[0-9]+;w=[0-9]+)*$`,
		"RateLimit":        `^"[a-z]+";r=[0-9]+;t=[0-9]+(, *"[a-z]+";r=[0-9]+;t=[0-9]+)*$`,
	} {
		if got := header.Values(field); len(got) != 1 || !regexp.MustCompile(grammar).MatchString(got[0]) {
			t.Errorf("%s: %q", field, got)
		}
	}
}
