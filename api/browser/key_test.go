package browser_test

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"parcours.example/api"
	"parcours.example/service/keys"
	"parcours.example/service/quota"
)

// closed is a service that lets in one key.
func closed(t *testing.T, origins ...string) (handler http.Handler, key string) {
	t.Helper()
	key = keys.New()
	name := filepath.Join(t.TempDir(), "keys")
	if err := os.WriteFile(name, []byte(keys.Line(keys.Client{Name: "page", Limits: quota.Limits{PerDay: 1000}}, key)), 0o600); err != nil {
		t.Fatal(err)
	}
	file, err := keys.Open(name, slog.New(slog.DiscardHandler), nil)
	if err != nil {
		t.Fatal(err)
	}
	counter, err := quota.New(quota.Config{})
	if err != nil {
		t.Fatal(err)
	}
	return serviceFor(t, api.Config{Keys: file, Quotas: counter, Origins: origins}), key
}

// A service that wants a key is used with one that is typed once: it is asked for where it is
// missing or wrong, and held for the tab alone.
func TestKeyIsAskedFor(t *testing.T) {
	handler, key := closed(t)
	b := newTabOver(t, handler)
	b.Allow(http.StatusUnauthorized)
	b.Open("/#demo=skarnholt-hill-climb")
	b.WaitVisible("dialog #key")
	b.CheckAccessible("key")

	b.TypeIn("#key", "parcours_wrong")
	b.Press(kb.Enter)
	b.WaitText("dialog", "isn't known here")
	b.TypeIn("#key", " "+key)
	b.Press(kb.Enter)
	b.WaitGone("dialog")
	b.WaitVisible(profileShown)
	if address := b.Address(); strings.Contains(address, "parcours_") {
		t.Errorf("the key is in the address: %s", address)
	}
	if kept := eval[string](b, "JSON.stringify(localStorage)"); strings.Contains(kept, "parcours_") {
		t.Errorf("the key outlives the tab: %s", kept)
	}
	b.Reload()
	b.WaitVisible(profileShown)
	if b.Visible("dialog") {
		t.Error("the key is asked for again")
	}
}

// Who has no key goes on without, and reads what that means.
func TestNoKeyAtHand(t *testing.T) {
	handler, _ := closed(t)
	b := newTabOver(t, handler)
	b.Allow(http.StatusUnauthorized)
	b.Open("/#demo=skarnholt-hill-climb")
	b.WaitVisible("dialog #key")
	b.Press(kb.Escape)
	b.WaitGone("dialog")
	b.WaitText("#open .problem", "A key is needed")
	b.Reload()
	b.WaitVisible("dialog #key")
}

// A page of a listed origin calls with a key and reads what it needs; one of another doesn't.
func TestOtherOrigins(t *testing.T) {
	page := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = w.Write([]byte("<!doctype html><html lang=en><title>League</title><link rel=icon href=data:,>"))
	})
	b := newTabOver(t, page)
	b.Open("/")
	listed, key := closed(t, b.Origin)
	unlisted, other := closed(t, "https://league.example")
	call := func(handler http.Handler, key string) string {
		server := httptest.NewServer(handler)
		t.Cleanup(server.Close)
		return eval[string](b, `(async () => {
			try {
				const answer = await fetch("`+server.URL+`/v1/courses", {method: "POST", headers: {Authorization: "Bearer `+key+`", "Content-Type": "application/gpx+xml"}, body: "<gpx/>"});
				return [answer.status, (await answer.json()).type, answer.headers.get("RateLimit") !== null, answer.headers.get("Request-Id") !== null].join(" ");
			} catch (error) { return error.name; }
		})()`)
	}
	defer b.Forgive() // the page asks elsewhere, and is refused
	if got := call(listed, key); got != "422 /problems/no-line true true" {
		t.Errorf("a listed origin: %s", got)
	}
	if got := call(unlisted, other); got != "TypeError" {
		t.Errorf("another origin: %s", got)
	}
}
