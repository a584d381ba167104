package browsertest

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"github.com/chromedp/chromedp"
)

// axeInstalled is where .ci/install puts axe-core, from the module's root.
const axeInstalled = ".ci/tools/page/node_modules/axe-core/axe.min.js"

// axeSource reads axe-core, once for all tests of a package.
var axeSource = sync.OnceValues(func() (string, error) {
	path := os.Getenv("PARCOURS_AXE")
	if path == "" {
		root, err := moduleRoot()
		if err != nil {
			return "", err
		}
		path = filepath.Join(root, axeInstalled)
	}
	source, err := os.ReadFile(path) //nolint:gosec // named by who runs the tests
	return string(source), err
})

// moduleRoot is the folder of go.mod, at or above where a package's tests run.
func moduleRoot() (string, error) {
	dir, err := os.Getwd()
	for err == nil && dir != filepath.Dir(dir) {
		if _, missing := os.Stat(filepath.Join(dir, "go.mod")); missing == nil {
			return dir, nil
		}
		dir = filepath.Dir(dir)
	}
	return "", errors.Join(err, errors.New("browsertest: no go.mod above the tests"))
}

// finding is what axe-core has against a page.
type finding struct {
	ID, Impact, Help string
	Nodes            []struct {
		Target         []any
		FailureSummary string
	}
}

// View is a way to look at a page.
type View struct {
	name   string
	width  int64
	colour Scheme
}

// The views that pages are held against. Their widths are in CSS pixels.
var (
	NarrowLight = View{"360-light", 360, Light}
	NarrowDark  = View{"360-dark", 360, Dark}
	WideLight   = View{"1280-light", 1280, Light}
	WideDark    = View{"1280-dark", 1280, Dark}
)

// CheckAccessible checks the page narrow and wide, light and dark, each with the other
// once; with PARCOURS_FULL=1 each with each. The state names the pictures. The tab is left
// wide and light. Where parts of the page are given by their selectors, axe-core looks at
// these alone, which is faster; the rules of whole pages need all of it once.
func (b *Tab) CheckAccessible(state string, parts ...string) {
	b.T.Helper()
	views := []View{NarrowLight, WideDark}
	if os.Getenv("PARCOURS_FULL") == "1" {
		views = append(views, NarrowDark, WideLight)
	}
	for _, v := range views {
		b.CheckView(state, v, parts...)
	}
	b.Look(WideLight)
}

// Look sets the viewport and the colours, and waits until the page follows.
func (b *Tab) Look(v View) {
	b.T.Helper()
	b.Size(v.width, 900)
	b.Media("screen", v.colour)
	b.Settle()
}

// CheckView holds the page in a view against all rules of axe-core that are in force, the
// Size of targets among them, demands that nothing sticks out sideways, and keeps a
// picture. What axe-core can't decide is logged.
func (b *Tab) CheckView(state string, v View, parts ...string) {
	b.T.Helper()
	b.Look(v)
	name := state + "-" + v.name
	Eval[any](b, "scrollTo({top: 0, behavior: 'instant'}) ?? true") // else what lies half under the contents counts as small
	b.checkWidth(name)
	b.Picture(name)
	b.CheckAxe(name, parts...)
}

// checkWidth demands that nothing sticks out sideways.
func (b *Tab) checkWidth(view string) {
	b.T.Helper()
	if over := Eval[int](b, "document.documentElement.scrollWidth - document.documentElement.clientWidth"); over > 0 {
		widest := Eval[[]string](b, `[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5)
			.slice(0, 5).map(e => e.tagName.toLowerCase() + (e.id ? "#" + e.id : "") + " " + e.className)`)
		b.T.Errorf("%s scrolls sideways by %d px: %s", view, over, strings.Join(widest, ", "))
	}
}

// loadAxe puts axe-core into the page, past its policy.
func (b *Tab) loadAxe() {
	b.T.Helper()
	source, err := axeSource()
	need(b.T, err == nil, "axe-core is not installed")
	if !Eval[bool](b, "typeof axe === 'object'") {
		b.Do("load axe-core", chromedp.Evaluate[chromedp.Void](source))
	}
}

// CheckAxe fails the test for each rule that the page, or its given parts, break.
func (b *Tab) CheckAxe(view string, parts ...string) {
	b.T.Helper()
	b.loadAxe()
	where := "document"
	if len(parts) > 0 {
		where = Quote(strings.Join(parts, ", "))
	}
	Eval[bool](b, "(scrollTo({top: 0, behavior: 'instant'}), true)") // so that what stays at the top covers nothing
	found := Eval[struct{ Violations, Incomplete []finding }](b, `axe.run(`+where+`, {
		resultTypes: ["violations", "incomplete"], rules: {"target-size": {enabled: true}},
	}).then(r => ({Violations: r.violations, Incomplete: r.incomplete}))`)
	for _, f := range found.Violations {
		for _, n := range f.Nodes {
			b.T.Errorf("%s: %s (%s): %s: %v: %s", view, f.ID, f.Impact, f.Help, n.Target, n.FailureSummary)
		}
	}
	for _, f := range found.Incomplete {
		b.T.Logf("%s: axe-core leaves open: %s, %d times", view, f.ID, len(f.Nodes))
	}
}
