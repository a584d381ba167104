package api_test

import (
	"net/http"
	"regexp"
	"strings"
	"testing"

	"parcours.example/service/engine"
)

// Everything that the page names is served, from here, and it names nothing from elsewhere.
func TestPageNamesOnlyItsOwnParts(t *testing.T) {
	h := newHarness(t, engine.Config{})
	page := h.send(t, request(http.MethodGet, "/", "", nil))
	if page.Code != http.StatusOK {
		t.Fatalf("status %d", page.Code)
	}
	if policy := page.Header().Get("Content-Security-Policy"); !strings.HasPrefix(policy, "default-src 'none'; script-src 'self';") || strings.Contains(policy, "unsafe") {
		t.Errorf("policy %q", policy)
	}
	seen, todo := map[string]bool{}, []string{"/"}
	for len(todo) > 0 {
		path := todo[0]
		todo = todo[1:]
		if seen[path] {
			continue
		}
		seen[path] = true
		got := h.send(t, request(http.MethodGet, path, "", nil))
		if got.Code != http.StatusOK {
			t.Errorf("%s: status %d", path, got.Code)
		}
		body := got.Body.String()
		if strings.HasSuffix(path, ".js") || strings.HasSuffix(path, ".css") || path == "/" {
			for _, address := range regexp.MustCompile(`(?:https?:)?//[a-z0-9.-]+\.[a-z]+[^\s"']*`).FindAllString(body, -1) {
				if address != "http://www.w3.org/2000/svg" {
					t.Errorf("%s names %s", path, address)
				}
			}
		}
		for _, m := range regexp.MustCompile(`(?:href|src)="(/[^"#]*)["#]|(?:from |import\()"\./([a-z]+\.js)"`).FindAllStringSubmatch(body, -1) {
			switch {
			case m[1] != "":
				todo = append(todo, m[1])
			case m[2] != "":
				todo = append(todo, "/page/"+m[2])
			}
		}
		for _, m := range regexp.MustCompile(`\["([a-z]+(?:-[a-z]+)+)", "`).FindAllStringSubmatch(body, -1) {
			todo = append(todo, "/demos/"+m[1])
		}
	}
	if len(seen) < 15 {
		t.Errorf("only %d parts", len(seen))
	}
}

// A browser that holds a part asks whether it is still the same, and is told so.
func TestPageIsAskedForAnew(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for _, path := range []string{"/", "/page/main.js", "/demos/quellmere-criterium"} {
		first := h.send(t, request(http.MethodGet, path, "", nil))
		if got := first.Header().Get("Cache-Control"); got != "no-cache" {
			t.Errorf("%s: Cache-Control %q", path, got)
		}
		again := request(http.MethodGet, path, "", nil)
		again.Header.Set("If-None-Match", first.Header().Get("ETag"))
		if got := h.send(t, again); got.Code != http.StatusNotModified || got.Body.Len() != 0 {
			t.Errorf("%s: status %d", path, got.Code)
		}
	}
}
