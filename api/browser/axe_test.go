package browser_test

import (
	"cmp"
	"os"
	"strings"
	"sync"

	"github.com/chromedp/chromedp"
)

// axeInstalled is where .ci/install puts axe-core.
const axeInstalled = root + "/.ci/tools/page/node_modules/axe-core/axe.min.js"

// root is the module's root, from this package.
const root = "../.."

// axeSource reads axe-core, once for all tests.
var axeSource = sync.OnceValues(func() (string, error) {
	source, err := os.ReadFile(cmp.Or(os.Getenv("PARCOURS_AXE"), axeInstalled))
	return string(source), err
})

// finding is what axe-core has against a page.
type finding struct {
	ID, Impact, Help string
	Nodes            []struct {
		Target         []any
		FailureSummary string
	}
}

// view is a way to look at a page.
type view struct {
	name   string
	width  int64
	colour scheme
}

var (
	narrowLight = view{"360-light", 360, light}
	narrowDark  = view{"360-dark", 360, dark}
	wideLight   = view{"1280-light", 1280, light}
	wideDark    = view{"1280-dark", 1280, dark}
)

// checkAccessible checks the page narrow and wide, light and dark, each with the other
// once; with PARCOURS_FULL=1 each with each. The state names the pictures. The tab is left
// wide and light. Where parts of the page are given by their selectors, axe-core looks at
// these alone, which is faster; the rules of whole pages need all of it once.
func (b *tab) checkAccessible(state string, parts ...string) {
	b.t.Helper()
	views := []view{narrowLight, wideDark}
	if os.Getenv("PARCOURS_FULL") == "1" {
		views = append(views, narrowDark, wideLight)
	}
	for _, v := range views {
		b.checkView(state, v, parts...)
	}
	b.look(wideLight)
}

// look sets the viewport and the colours, and waits until the page follows.
func (b *tab) look(v view) {
	b.t.Helper()
	b.size(v.width, 900)
	b.media("screen", v.colour)
	b.settle()
}

// checkView holds the page in a view against all rules of axe-core that are in force, the
// size of targets among them, demands that nothing sticks out sideways, and keeps a
// picture. What axe-core can't decide is logged.
func (b *tab) checkView(state string, v view, parts ...string) {
	b.t.Helper()
	b.look(v)
	name := state + "-" + v.name
	eval[any](b, "scrollTo({top: 0, behavior: 'instant'}) ?? true") // else what lies half under the contents counts as small
	b.checkWidth(name)
	b.picture(name)
	b.checkAxe(name, parts...)
}

// checkWidth demands that nothing sticks out sideways.
func (b *tab) checkWidth(view string) {
	b.t.Helper()
	if over := eval[int](b, "document.documentElement.scrollWidth - document.documentElement.clientWidth"); over > 0 {
		widest := eval[[]string](b, `[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5)
			.slice(0, 5).map(e => e.tagName.toLowerCase() + (e.id ? "#" + e.id : "") + " " + e.className)`)
		b.t.Errorf("%s scrolls sideways by %d px: %s", view, over, strings.Join(widest, ", "))
	}
}

// loadAxe puts axe-core into the page, past its policy.
func (b *tab) loadAxe() {
	b.t.Helper()
	source, err := axeSource()
	need(b.t, err == nil, "axe-core is not installed")
	if !eval[bool](b, "typeof axe === 'object'") {
		b.do("load axe-core", chromedp.Evaluate[chromedp.Void](source))
	}
}

// checkAxe fails the test for each rule that the page, or its given parts, break.
func (b *tab) checkAxe(view string, parts ...string) {
	b.t.Helper()
	b.loadAxe()
	where := "document"
	if len(parts) > 0 {
		where = quote(strings.Join(parts, ", "))
	}
	eval[bool](b, "(scrollTo({top: 0, behavior: 'instant'}), true)") // so that what stays at the top covers nothing
	found := eval[struct{ Violations, Incomplete []finding }](b, `axe.run(`+where+`, {
		resultTypes: ["violations", "incomplete"], rules: {"target-size": {enabled: true}},
	}).then(r => ({Violations: r.violations, Incomplete: r.incomplete}))`)
	for _, f := range found.Violations {
		for _, n := range f.Nodes {
			b.t.Errorf("%s: %s (%s): %s: %v: %s", view, f.ID, f.Impact, f.Help, n.Target, n.FailureSummary)
		}
	}
	for _, f := range found.Incomplete {
		b.t.Logf("%s: axe-core leaves open: %s, %d times", view, f.ID, len(f.Nodes))
	}
}
