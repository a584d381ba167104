// Package browser_test uses the service's pages as people do: in a real browser, over
// the real handler and engine. It holds tests and their harness only.
//
// A test opens a tab, acts, waits for what must come true, and reads:
//
//	func TestNameOfCourse(t *testing.T) {
//		b := newTab(t)
//		b.open("/")
//		b.drop("#drop", "loop.gpx", example(t, "orchard-loop.gpx"))
//		b.waitText("h2", "Orchard loop")
//		b.checkAccessible("course")
//	}
//
// Each tab has a service and a browser profile of its own. Whatever the page shouldn't do
// fails the test by itself: an uncaught exception, a warning or an error on the console,
// a violation of the content security policy, a request that fails or is answered with a
// status the test didn't allow, a request to anywhere else. Nothing here sleeps: waits
// end when their condition holds, and fail with a picture of the page when it doesn't.
//
// Without a Chromium the tests are skipped; PARCOURS_REQUIRE=1 makes them fail instead.
// PARCOURS_SCREENSHOTS names a folder for pictures of each state, PARCOURS_AXE the file
// axe.min.js where it isn't the one that .ci/install fetches.
package browser_test

import (
	"context"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/audits"
	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/api"
	"parcours.example/service/engine"
)

// patience is how long a condition may take to come true, and stamina how long a tab may
// live; both are far above what anything here takes on a quiet machine.
const (
	patience = 30 * time.Second
	stamina  = 3 * time.Minute
)

func TestMain(m *testing.M) {
	code := m.Run()
	chromium().stop()
	os.Exit(code)
}

// process is the one browser of all tests. It starts with the first tab.
type process struct {
	path  string // empty where there is none
	ctx   context.Context
	stop  context.CancelFunc
	start func() error
}

var chromium = sync.OnceValue(func() process {
	path, _ := exec.LookPath("chromium")
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"), // no name is ever looked up
	)
	allocator, release := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, quit := chromedp.NewContext(allocator)
	return process{
		path: path, ctx: ctx,
		stop:  func() { quit(); release() },
		start: sync.OnceValue(func() error { return chromedp.Do(ctx) }),
	}
})

// tab is a page in a browser profile of its own, over a service of its own.
type tab struct {
	t testing.TB
	// origin is the service's address, such as http://127.0.0.1:40001.
	origin string
	ctx    context.Context
	watch  *watch
}

// newTab starts a service and opens an empty tab, 1280 px wide, light, and without
// motion. Both end with the test, which then fails for whatever the page did wrong.
func newTab(t testing.TB) *tab {
	t.Helper()
	return newTabOver(t, service(t))
}

// newTabOver opens a tab as newTab does, over another service.
func newTabOver(t testing.TB, handler http.Handler) *tab {
	t.Helper()
	need(t, chromium().path != "", "chromium is not installed")
	if err := chromium().start(); err != nil {
		t.Fatalf("chromium doesn't start: %v", err)
	}
	server := httptest.NewServer(handler)
	t.Cleanup(server.Close)
	w := newWatch(server.URL)
	ctx, quit := chromedp.NewContext(chromium().ctx, chromedp.WithNewBrowserContext(), chromedp.WithListener(w.see))
	ctx, expire := context.WithTimeout(ctx, stamina)
	b := &tab{t: t, origin: server.URL, ctx: ctx, watch: w}
	t.Cleanup(func() {
		b.pictureOfFailure()
		expire()
		quit()
		for _, fault := range w.faults() {
			t.Errorf("the page: %s", fault)
		}
	})
	if err := chromedp.Do(ctx); err != nil { // the tab lives as long as the context of its first action
		t.Fatalf("open a tab: %v", err)
	}
	b.do("prepare the tab", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error { return b.prepare(ctx) }))
	b.size(1280, 900)
	b.media("screen", light)
	return b
}

// prepare makes the tab report all that goes wrong, lets it use the clipboard, and makes
// it behave as one that is in front.
func (b *tab) prepare(ctx context.Context) error {
	if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
		return err
	}
	if _, err := chromedp.Call(ctx, audits.Enable, cdp.Empty{}); err != nil {
		return err
	}
	if _, err := chromedp.Call(ctx, emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true}); err != nil {
		return err
	}
	for _, name := range []string{"clipboard-read", "clipboard-write"} {
		_, err := chromedp.CallBrowser(ctx, browser.SetPermission, browser.SetPermissionParams{
			Permission: &browser.PermissionDescriptor{Name: name}, Setting: browser.PermissionSettingGranted,
			Origin: b.origin, BrowserContextID: chromedp.FromContext(ctx).BrowserContextID,
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// service is the real handler over a real engine.
func service(t testing.TB) http.Handler {
	t.Helper()
	return serviceFor(t, api.Config{})
}

// serviceFor is service with a say in who may call.
func serviceFor(t testing.TB, callers api.Config) http.Handler {
	t.Helper()
	registry := prometheus.NewRegistry()
	e, err := engine.New(engine.Config{Registerer: registry})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(e.Close)
	callers.Engine, callers.Registry, callers.Ready = e, registry, func() bool { return true }
	callers.Logger = slog.New(slog.DiscardHandler)
	handler, err := api.New(callers)
	if err != nil {
		t.Fatal(err)
	}
	return handler
}

// need skips the test where something outside the module is missing, or fails it where
// PARCOURS_REQUIRE says that nothing may be.
func need(t testing.TB, there bool, what string) {
	t.Helper()
	switch {
	case there:
	case os.Getenv("PARCOURS_REQUIRE") == "1":
		t.Fatalf("%s; .ci/install gets it", what)
	default:
		t.Skipf("%s; .ci/install gets it", what)
	}
}

// do runs actions in the tab; a failure names what they were for.
func (b *tab) do(what string, actions ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	if err := chromedp.Do(ctx, actions...); err != nil {
		b.t.Fatalf("%s: %v", what, err)
	}
}

// open loads a page of the service and waits until it is there. The path may hold a
// query and a fragment.
func (b *tab) open(path string) {
	b.t.Helper()
	b.do("open "+path, chromedp.Navigate(b.origin+path))
}

// reload loads the page again.
func (b *tab) reload() {
	b.t.Helper()
	b.do("reload", chromedp.Reload())
}

// address returns where the tab is, from the path on.
func (b *tab) address() string {
	b.t.Helper()
	return strings.TrimPrefix(eval[string](b, "location.href"), b.origin)
}

// size sets the viewport, in CSS pixels.
func (b *tab) size(width, height int64) {
	b.t.Helper()
	b.do("set the viewport", chromedp.EmulateViewport(width, height))
}

// scheme is a preference for light or dark pages.
type scheme string

const (
	light scheme = "light"
	dark  scheme = "dark"
)

// media sets the medium, "screen" or "print", and the preferred colours. Motion is
// always unwanted, so that no picture shows half of one.
func (b *tab) media(medium string, colours scheme) {
	b.t.Helper()
	b.do("set the medium", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Media: medium, Features: []*emulation.MediaFeature{
				{Name: "prefers-color-scheme", Value: string(colours)}, {Name: "prefers-reduced-motion", Value: "reduce"},
			},
		})
		return err
	}))
}
