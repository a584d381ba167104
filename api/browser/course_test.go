package browser_test

import (
	"bytes"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// profileShown is the picture of a course that is open.
const profileShown = "#profile .sheet svg"

// openDemo opens the page with one of the service's own courses, and waits for its picture.
func (b *tab) openDemo(name string) {
	b.t.Helper()
	b.open("/#demo=" + name)
	b.waitVisible(profileShown)
}

// redraw runs what makes the page draw the course anew, and waits for the new picture.
func (b *tab) redraw(act func()) {
	b.t.Helper()
	eval[bool](b, "document.querySelector('"+profileShown+"').stale = true")
	act()
	b.wait("a new picture", "document.querySelector('"+profileShown+"')?.stale === undefined && document.querySelector('"+profileShown+"') !== null")
}

// season reads a file below testdata/season.
func season(t testing.TB, name string) []byte {
	t.Helper()
	content, err := os.ReadFile(filepath.Join(root, "testdata/season", name))
	if err != nil {
		t.Fatal(err)
	}
	return content
}

func TestEveryFormatOpens(t *testing.T) {
	b := newTab(t)
	b.open("/")
	for i, name := range []string{
		"orchard-loop.gpx", "orchard-loop.geojson", "orchard-loop.kml", "orchard-loop.fit", "orchard-loop.tcx",
		"orchard-loop.csv", "orchard-loop.gpx.gz", "orchard-loop.profile.csv",
	} {
		if i%2 == 0 {
			b.drop("label[for=file]", name, example(t, name))
		} else {
			b.choose("#file", name, example(t, name))
		}
		b.waitText("#open [role=status]", "is open")
		b.waitVisible(profileShown)
		b.waitText("#profile .facts", "km")
		eval[any](b, `document.querySelector("#open [role=status]").textContent = ""`)
	}
}

func TestCourseAtAGlance(t *testing.T) {
	b := newTab(t)
	b.openDemo("morvask-laps-and-climb")
	if got, want := b.text("#profile-title"), "Morvask Circuit and Wall"; got != want {
		t.Errorf("the title is %q, the course's name %q", got, want)
	}
	b.checkAccessible("course")
	for _, focus := range eval[[]string](b, `[...document.querySelectorAll("[name=focus]")].map(o => o.value)`)[1:] {
		b.redraw(func() { b.set("[name=focus][value="+focus+"]", "true") })
		b.picture("focus-" + focus)
		b.checkAxe("focus-"+focus, "#profile")
	}
}

func TestEveryDemoOpens(t *testing.T) {
	b := newTab(t)
	b.open("/")
	for _, demo := range eval[[]string](b, `[...document.querySelectorAll("[data-demo]")].map(e => e.dataset.demo)`) {
		b.click("[data-demo=" + demo + "]")
		b.wait("the address of "+demo, "location.hash.includes('demo="+demo+"')")
		b.waitVisible(profileShown)
	}
	if n := b.count("[data-demo]"); n < 3 {
		t.Errorf("only %d demos", n)
	}
}

func TestUnreadableFileSaysWhere(t *testing.T) {
	b := newTab(t)
	b.allow(http.StatusUnprocessableEntity, http.StatusBadRequest, http.StatusUnsupportedMediaType)
	b.open("/")
	broken := bytes.Replace(example(t, "orchard-loop.gpx"), []byte("<trkpt lat=\""), []byte("<trkpt lat=\"9"), 1)
	b.drop("label[for=file]", "broken.gpx", broken)
	b.waitVisible("#open [role=alert]")
	if got := b.text("#open [role=alert]"); !strings.Contains(got, "line ") {
		t.Errorf("the problem names no line: %s", got)
	}
	b.checkAccessible("error")
	b.choose("#file", "notes.txt", []byte("Nothing to ride here.\n"))
	b.wait("another problem", "document.querySelector('#open [role=alert]') && !document.querySelector('#open [role=alert]').innerText.includes('line ')")
	b.choose("#file", "empty.gpx", nil)
	b.waitVisible("#open [role=alert]")
	if b.visible("#profile") {
		t.Error("there is a profile of no course")
	}
	b.choose("#file", "good.gpx", example(t, "orchard-loop.gpx"))
	b.waitVisible(profileShown)
	b.waitGone("#open [role=alert]")
}

func TestHostileNames(t *testing.T) {
	const hostile = `<img src=x onerror=alert(1)>"'&amp; <b>@here</b>`
	b := newTab(t)
	b.open("/")
	named := bytes.ReplaceAll(example(t, "orchard-loop.gpx"), []byte("<name>"), []byte("<name>"+strings.NewReplacer("&", "&amp;", "<", "&lt;").Replace(hostile)))
	b.drop("label[for=file]", `a"b'<i>.gpx`, named)
	b.waitVisible(profileShown)
	if got := b.text("#profile-title"); !strings.HasPrefix(got, hostile) {
		t.Errorf("the title is %q", got)
	}
	if n := b.count("main img:not(.on-paper), main b, main i, script:not([src])"); n != 0 {
		t.Errorf("%d elements were made of names", n)
	}
}

// TestDropAnywhere: a file that misses its place opens too, and never replaces the page.
func TestDropAnywhere(t *testing.T) {
	b := newTab(t)
	b.open("/")
	b.drop("footer", "loop.gpx", example(t, "orchard-loop.gpx"))
	b.waitVisible(profileShown)
}

func TestKeyboardAlone(t *testing.T) {
	b := newTab(t)
	b.open("/")
	b.press(kb.Tab)
	if got := eval[string](b, "document.activeElement.className"); got != "skip" {
		t.Errorf("the first stop is %q, not the way past the head", got)
	}
	b.tabTo(`document.activeElement.dataset.demo !== undefined`)
	b.press(kb.Enter)
	b.waitVisible(profileShown)
	b.wait("the focus on the course", "document.activeElement.id === 'profile-title'")
	b.tabTo(`document.activeElement.id === "cursor"`)
	before := b.text("#profile .readout")
	b.press(kb.ArrowRight + kb.ArrowRight)
	b.wait("another place", "document.querySelector('#profile .readout').innerText !== "+quote(before))
	if got, want := b.attribute("#cursor", "aria-valuetext"), b.text("#profile .readout"); got != want {
		t.Errorf("the slider says %q, the page %q", got, want)
	}
	b.press(kb.End)
	b.waitText("#profile .readout", " 0 m to go")
	b.tabThrough()
}

// tabTo presses Tab until a condition on what has the focus holds.
func (b *tab) tabTo(condition string) {
	b.t.Helper()
	for range 200 {
		b.press(kb.Tab)
		if eval[bool](b, condition) {
			return
		}
	}
	b.t.Fatalf("the keyboard doesn't get to where %s", condition)
}

// tabThrough demands that Tab gets to all that can be used, each with a mark around it
// that can be seen, and out of the page again.
func (b *tab) tabThrough() {
	b.t.Helper()
	want := eval[int](b, `(globalThis.reached = new Set(), [...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex='0']")]
		.filter(e => e.checkVisibility({visibilityProperty: true}) && !e.disabled && e.tabIndex >= 0 && (e.type !== "radio" || e.checked)).length)`)
	eval[any](b, "(document.activeElement.blur(), true)")
	for range want + 5 {
		b.press(kb.Tab)
		bare := eval[string](b, `(() => {
			const e = document.activeElement, shown = e.closest(".drop") ?? e;
			if (e === document.body) return "";
			reached.add(e);
			return getComputedStyle(shown).outlineStyle === "none" ? e.outerHTML.slice(0, 200) : "";
		})()`)
		if bare != "" {
			b.t.Errorf("nothing shows that the focus is on %s", bare)
		}
	}
	if got := eval[int](b, "reached.size"); got < want {
		b.t.Errorf("the keyboard gets to %d of %d", got, want)
	}
}

func TestStateStandsInTheAddress(t *testing.T) {
	b := newTab(t)
	b.openDemo("quellmere-criterium")
	b.redraw(func() { b.set("#units", "imperial") })
	b.redraw(func() { b.set("#theme", "dark") })
	b.redraw(func() { b.set("[name=focus][value=laps]", "true") })
	address := b.address()
	title, facts, colour := b.text("#profile-title"), b.text("#profile .facts"), eval[string](b, "getComputedStyle(document.body).backgroundColor")
	b.open("/docs")
	b.open(address)
	b.waitVisible(profileShown)
	b.waitText("#profile .facts", "miles")
	b.wait("the laps", "document.querySelector('[name=focus][value=laps]').checked")
	if got := b.text("#profile-title"); got != title {
		t.Errorf("the title is %q, was %q", got, title)
	}
	if got := b.text("#profile .facts"); got != facts {
		t.Errorf("the facts are %q, were %q", got, facts)
	}
	if got := eval[string](b, "getComputedStyle(document.body).backgroundColor"); got != colour {
		t.Errorf("the page is %s, was %s", got, colour)
	}
	if got := b.address(); got != address {
		t.Errorf("the address is %s, was %s", got, address)
	}
}

func TestCursorFollowsThePointer(t *testing.T) {
	b := newTab(t)
	b.openDemo("brambleseth-time-trial")
	at := eval[struct{ X, Y float64 }](b, `(() => {
		const picture = document.querySelector("`+profileShown+`");
		picture.scrollIntoView({block: "center", behavior: "instant"});
		const box = picture.getBoundingClientRect();
		return {X: box.x + box.width / 2, Y: box.y + box.height / 2};
	})()`)
	before := b.text("#profile .readout")
	b.do("move the pointer", chromedp.MouseClickXY(at.X, at.Y))
	b.wait("another place", "document.querySelector('#profile .readout').innerText !== "+quote(before))
	b.waitFor(profileShown + " .here line")
}

func TestPrint(t *testing.T) {
	b := newTab(t)
	b.openDemo("skarnholt-hill-climb")
	b.media("print", dark)
	b.wait("black on white", "getComputedStyle(document.body).backgroundColor === 'rgb(255, 255, 255)' && getComputedStyle(document.body).color === 'rgb(0, 0, 0)'")
	for _, selector := range []string{"#open", ".settings", "#cursor", "#focus", "button", profileShown} {
		if b.visible(selector) {
			t.Errorf("%s is printed", selector)
		}
	}
	b.waitVisible("#profile .on-paper")
	b.wait("the profile in greys", "document.querySelector('#profile .on-paper').naturalWidth === 960")
	if b.visible(profileShown) {
		t.Error("the picture for the screen is printed")
	}
	b.picture("print")
}

// TestNewerCourseWins: a file that is opened while another is on its way calls that off.
func TestNewerCourseWins(t *testing.T) {
	whole := service(t)
	left := make(chan struct{})
	var asked atomic.Bool
	b := newTabOver(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost && asked.CompareAndSwap(false, true) { // the first file is never answered
			io.Copy(io.Discard, r.Body) // only then does the server see a caller leave
			<-r.Context().Done()
			close(left)
			return
		}
		whole.ServeHTTP(w, r)
	}))
	b.open("/")
	b.choose("#file", "slow.gpx", season(t, "ludwether-mountain-stage.gpx"))
	b.waitText("#open [role=status]", "Reading slow.gpx")
	b.choose("#file", "quick.gpx", example(t, "orchard-loop.gpx"))
	b.waitVisible(profileShown)
	select {
	case <-left:
	case <-time.After(patience):
		t.Fatal("the first request isn't called off")
	}
	b.waitText("#open [role=status]", "is open")
}

// TestForgottenCourseIsSentAgain: a service that lost its memory, as a restart does, is
// sent the file again without a word.
func TestForgottenCourseIsSentAgain(t *testing.T) {
	var now atomic.Value
	now.Store(service(t))
	b := newTabOver(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { now.Load().(http.Handler).ServeHTTP(w, r) }))
	b.allow(http.StatusNotFound)
	b.openDemo("quellmere-criterium")
	now.Store(service(t))
	b.redraw(func() { b.set("#units", "imperial") })
	if n := b.count("main [role=alert]"); n != 0 {
		t.Errorf("%d problems are told", n)
	}
}

// TestServiceAway: a service that can't be reached is told as such, and asked again once
// it is back.
func TestServiceAway(t *testing.T) {
	whole := service(t)
	var away atomic.Bool
	b := newTabOver(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if away.Load() {
			panic(http.ErrAbortHandler) // net/http's way to drop a connection
		}
		whole.ServeHTTP(w, r)
	}))
	b.openDemo("skarnholt-hill-climb")
	b.settle()
	away.Store(true)
	b.choose("#file", "loop.gpx", example(t, "orchard-loop.gpx"))
	b.waitText("#open [role=alert]", "can't be reached")
	b.settle()
	b.watch.forgive() // the browser's own words for it
	away.Store(false)
	b.choose("#file", "loop.gpx", example(t, "orchard-loop.gpx"))
	b.waitText("#open [role=status]", "is open")
	b.waitGone("#open [role=alert]")
}
