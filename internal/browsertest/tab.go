// Package browsertest uses pages as people do: in a real browser, over whatever handler serves
// them. Nothing that ships imports it.
//
// A test opens a tab, acts, waits for what must come true, and reads:
//
//	func TestNameOfCourse(t *testing.T) {
//		b := browsertest.New(t, handler)
//		b.Open("/")
//		b.Drop("#drop", "loop.gpx", content)
//		b.WaitText("h2", "Orchard loop")
//		b.CheckAccessible("course")
//	}
//
// Each tab has a browser profile of its own. Whatever the page shouldn't do fails the test by
// itself: an uncaught exception, a warning or an error on the console, a violation of the
// content security policy, a request that fails or is answered with a status the test didn't
// allow, a request to anywhere else. Nothing here sleeps: waits end when their condition
// holds, and fail with a picture of the page when it doesn't.
//
// Without a Chromium the tests are skipped; PARCOURS_REQUIRE=1 makes them fail instead.
// PARCOURS_SCREENSHOTS names a folder for pictures of each state, PARCOURS_AXE the file
// axe.min.js where it isn't the one that .ci/install fetches.
package browsertest

import (
	"context"
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
)

// Patience is how long a condition may take to come true, far above what anything takes on a
// quiet machine.
const Patience = 30 * time.Second

// stamina is how long a tab may live.
const stamina = 3 * time.Minute

// Main runs a package's tests and ends their browser. It returns the exit code.
func Main(m *testing.M) int {
	defer func() { chromium().stop() }()
	return m.Run()
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

// Tab is a page in a browser profile of its own, over a server of its own.
type Tab struct {
	T testing.TB
	// Origin is the server's address, such as http://127.0.0.1:40001.
	Origin string
	ctx    context.Context
	watch  *watch
}

// New serves a handler and opens an empty tab, 1280 px wide, light, and without motion. Both
// end with the test, which then fails for whatever the page did wrong.
func New(t testing.TB, handler http.Handler) *Tab {
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
	b := &Tab{T: t, Origin: server.URL, ctx: ctx, watch: w}
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
	b.Do("prepare the tab", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error { return b.prepare(ctx) }))
	b.Size(1280, 900)
	b.Media("screen", Light)
	return b
}

// prepare makes the tab report all that goes wrong, lets it use the clipboard, and makes
// it behave as one that is in front.
func (b *Tab) prepare(ctx context.Context) error {
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
			Origin: b.Origin, BrowserContextID: chromedp.FromContext(ctx).BrowserContextID,
		})
		if err != nil {
			return err
		}
	}
	return nil
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

// Do runs actions in the tab; a failure names what they were for.
func (b *Tab) Do(what string, actions ...chromedp.Action[chromedp.Void]) {
	b.T.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, Patience)
	defer cancel()
	if err := chromedp.Do(ctx, actions...); err != nil {
		b.T.Fatalf("%s: %v", what, err)
	}
}

// Open loads a page of the service and waits until it is there. The path may hold a
// query and a fragment.
func (b *Tab) Open(path string) {
	b.T.Helper()
	b.Do("open "+path, chromedp.Navigate(b.Origin+path))
}

// Reload loads the page again.
func (b *Tab) Reload() {
	b.T.Helper()
	b.Do("reload", chromedp.Reload())
}

// Address returns where the tab is, from the path on.
func (b *Tab) Address() string {
	b.T.Helper()
	return strings.TrimPrefix(Eval[string](b, "location.href"), b.Origin)
}

// Size sets the viewport, in CSS pixels.
func (b *Tab) Size(width, height int64) {
	b.T.Helper()
	b.Do("set the viewport", chromedp.EmulateViewport(width, height))
}

// Scheme is a preference for light or dark pages.
type Scheme string

// The preferences there are.
const (
	Light Scheme = "light"
	Dark  Scheme = "dark"
)

// Media sets the medium, "screen" or "print", and the preferred colours. Motion is
// always unwanted, so that no picture shows half of one.
func (b *Tab) Media(medium string, colours Scheme) {
	b.T.Helper()
	b.Do("set the medium", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Media: medium, Features: []*emulation.MediaFeature{
				{Name: "prefers-color-scheme", Value: string(colours)}, {Name: "prefers-reduced-motion", Value: "reduce"},
			},
		})
		return err
	}))
}
