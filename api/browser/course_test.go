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

	"parcours.example/internal/browsertest"
)

// profileShown is the picture of a course that is open.
const profileShown = "#profile .sheet svg"

// openDemo opens the page with one of the service's own courses, and waits for its picture.
func (b *tab) openDemo(name string) {
	b.T.Helper()
	b.Open("/#demo=" + name)
	b.WaitVisible(profileShown)
}

// redraw runs what makes the page draw the course anew, and waits for the new picture.
func (b *tab) redraw(act func()) {
	b.T.Helper()
	eval[bool](b, "document.querySelector('"+profileShown+"').stale = true")
	act()
	b.Wait("a new picture", "document.querySelector('"+profileShown+"')?.stale === undefined && document.querySelector('"+profileShown+"') !== null")
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
	b.Open("/")
	for i, name := range []string{
		"orchard-loop.gpx", "orchard-loop.geojson", "orchard-loop.kml", "orchard-loop.fit", "orchard-loop.tcx",
		"orchard-loop.csv", "orchard-loop.gpx.gz", "orchard-loop.profile.csv",
	} {
		if i%2 == 0 {
			b.Drop("label[for=file]", name, example(t, name))
		} else {
			b.Choose("#file", name, example(t, name))
		}
		b.WaitText("#open [role=status]", "is open")
		b.WaitVisible(profileShown)
		b.WaitText("#profile .facts", "km")
		eval[any](b, `document.querySelector("#open [role=status]").textContent = ""`)
	}
}

func TestCourseAtAGlance(t *testing.T) {
	b := newTab(t)
	b.openDemo("morvask-laps-and-climb")
	if got, want := b.Text("#profile-title"), "Morvask Circuit and Wall"; got != want {
		t.Errorf("the title is %q, the course's name %q", got, want)
	}
	b.CheckAccessible("course")
	for _, focus := range eval[[]string](b, `[...document.querySelectorAll("[name=focus]")].map(o => o.value)`)[1:] {
		b.redraw(func() { b.Set("[name=focus][value="+focus+"]", "true") })
		b.Picture("focus-" + focus)
		b.CheckAxe("focus-"+focus, "#profile")
	}
}

func TestEveryDemoOpens(t *testing.T) {
	b := newTab(t)
	b.Open("/")
	for _, demo := range eval[[]string](b, `[...document.querySelectorAll("[data-demo]")].map(e => e.dataset.demo)`) {
		b.Click("[data-demo=" + demo + "]")
		b.Wait("the address of "+demo, "location.hash.includes('demo="+demo+"')")
		b.WaitVisible(profileShown)
	}
	if n := b.Count("[data-demo]"); n < 3 {
		t.Errorf("only %d demos", n)
	}
}

func TestUnreadableFileSaysWhere(t *testing.T) {
	b := newTab(t)
	b.Allow(http.StatusUnprocessableEntity, http.StatusBadRequest, http.StatusUnsupportedMediaType)
	b.Open("/")
	broken := bytes.Replace(example(t, "orchard-loop.gpx"), []byte("<trkpt lat=\""), []byte("<trkpt lat=\"9"), 1)
	b.Drop("label[for=file]", "broken.gpx", broken)
	b.WaitVisible("#open [role=alert]")
	if got := b.Text("#open [role=alert]"); !strings.Contains(got, "line ") {
		t.Errorf("the problem names no line: %s", got)
	}
	b.CheckAccessible("error")
	b.Choose("#file", "notes.txt", []byte("Nothing to ride here.\n"))
	b.Wait("another problem", "document.querySelector('#open [role=alert]') && !document.querySelector('#open [role=alert]').innerText.includes('line ')")
	b.Choose("#file", "empty.gpx", nil)
	b.WaitVisible("#open [role=alert]")
	if b.Visible("#profile") {
		t.Error("there is a profile of no course")
	}
	b.Choose("#file", "good.gpx", example(t, "orchard-loop.gpx"))
	b.WaitVisible(profileShown)
	b.WaitGone("#open [role=alert]")
}

func TestHostileNames(t *testing.T) {
	const hostile = `<img src=x onerror=alert(1)>"'&amp; <b>@here</b>`
	b := newTab(t)
	b.Open("/")
	named := bytes.ReplaceAll(example(t, "orchard-loop.gpx"), []byte("<name>"), []byte("<name>"+strings.NewReplacer("&", "&amp;", "<", "&lt;").Replace(hostile)))
	b.Drop("label[for=file]", `a"b'<i>.gpx`, named)
	b.WaitVisible(profileShown)
	if got := b.Text("#profile-title"); !strings.HasPrefix(got, hostile) {
		t.Errorf("the title is %q", got)
	}
	if n := b.Count("main img:not(.on-paper), main b, main i, script:not([src])"); n != 0 {
		t.Errorf("%d elements were made of names", n)
	}
}

// TestDropAnywhere: a file that misses its place opens too, and never replaces the page.
func TestDropAnywhere(t *testing.T) {
	b := newTab(t)
	b.Open("/")
	b.Drop("footer", "loop.gpx", example(t, "orchard-loop.gpx"))
	b.WaitVisible(profileShown)
}

func TestKeyboardAlone(t *testing.T) {
	b := newTab(t)
	b.Open("/")
	b.Press(kb.Tab)
	if got := eval[string](b, "document.activeElement.className"); got != "skip" {
		t.Errorf("the first stop is %q, not the way past the head", got)
	}
	b.TabTo(`document.activeElement.dataset.demo !== undefined`)
	b.Press(kb.Enter)
	b.WaitVisible(profileShown)
	b.Wait("the focus on the course", "document.activeElement.id === 'profile-title'")
	b.TabTo(`document.activeElement.id === "cursor"`)
	before := b.Text("#profile .readout")
	b.Press(kb.ArrowRight + kb.ArrowRight)
	b.Wait("another place", "document.querySelector('#profile .readout').innerText !== "+browsertest.Quote(before))
	if got, want := b.Attribute("#cursor", "aria-valuetext"), b.Text("#profile .readout"); got != want {
		t.Errorf("the slider says %q, the page %q", got, want)
	}
	b.Press(kb.End)
	b.WaitText("#profile .readout", " 0 m to go")
	b.TabThrough()
}

func TestStateStandsInTheAddress(t *testing.T) {
	b := newTab(t)
	b.openDemo("quellmere-criterium")
	b.redraw(func() { b.Set("#units", "imperial") })
	b.redraw(func() { b.Set("#theme", "dark") })
	b.redraw(func() { b.Set("[name=focus][value=laps]", "true") })
	address := b.Address()
	title, facts, colour := b.Text("#profile-title"), b.Text("#profile .facts"), eval[string](b, "getComputedStyle(document.body).backgroundColor")
	b.Open("/docs")
	b.Open(address)
	b.WaitVisible(profileShown)
	b.WaitText("#profile .facts", "miles")
	b.Wait("the laps", "document.querySelector('[name=focus][value=laps]').checked")
	if got := b.Text("#profile-title"); got != title {
		t.Errorf("the title is %q, was %q", got, title)
	}
	if got := b.Text("#profile .facts"); got != facts {
		t.Errorf("the facts are %q, were %q", got, facts)
	}
	if got := eval[string](b, "getComputedStyle(document.body).backgroundColor"); got != colour {
		t.Errorf("the page is %s, was %s", got, colour)
	}
	if got := b.Address(); got != address {
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
	before := b.Text("#profile .readout")
	b.Do("move the pointer", chromedp.MouseClickXY(at.X, at.Y))
	b.Wait("another place", "document.querySelector('#profile .readout').innerText !== "+browsertest.Quote(before))
	b.WaitFor(profileShown + " .here line")
}

func TestPrint(t *testing.T) {
	b := newTab(t)
	b.openDemo("skarnholt-hill-climb")
	b.Media("print", browsertest.Dark)
	b.Wait("black on white", "getComputedStyle(document.body).backgroundColor === 'rgb(255, 255, 255)' && getComputedStyle(document.body).color === 'rgb(0, 0, 0)'")
	for _, selector := range []string{"#open", ".settings", "#cursor", "#focus", "button", profileShown} {
		if b.Visible(selector) {
			t.Errorf("%s is printed", selector)
		}
	}
	b.WaitVisible("#profile .on-paper")
	b.Wait("the profile in greys", "document.querySelector('#profile .on-paper').naturalWidth === 960")
	if b.Visible(profileShown) {
		t.Error("the picture for the screen is printed")
	}
	b.Picture("print")
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
	b.Open("/")
	b.Choose("#file", "slow.gpx", season(t, "ludwether-mountain-stage.gpx"))
	b.WaitText("#open [role=status]", "Reading slow.gpx")
	b.Choose("#file", "quick.gpx", example(t, "orchard-loop.gpx"))
	b.WaitVisible(profileShown)
	select {
	case <-left:
	case <-time.After(browsertest.Patience):
		t.Fatal("the first request isn't called off")
	}
	b.WaitText("#open [role=status]", "is open")
}

// TestForgottenCourseIsSentAgain: a service that lost its memory, as a restart does, is
// sent the file again without a word.
func TestForgottenCourseIsSentAgain(t *testing.T) {
	var now atomic.Value
	now.Store(service(t))
	b := newTabOver(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { now.Load().(http.Handler).ServeHTTP(w, r) }))
	b.Allow(http.StatusNotFound)
	b.openDemo("quellmere-criterium")
	now.Store(service(t))
	b.redraw(func() { b.Set("#units", "imperial") })
	if n := b.Count("main [role=alert]"); n != 0 {
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
	b.Settle()
	away.Store(true)
	b.Choose("#file", "loop.gpx", example(t, "orchard-loop.gpx"))
	b.WaitText("#open [role=alert]", "can't be reached")
	b.Settle()
	b.Forgive() // the browser's own words for it
	away.Store(false)
	b.Choose("#file", "loop.gpx", example(t, "orchard-loop.gpx"))
	b.WaitText("#open [role=status]", "is open")
	b.WaitGone("#open [role=alert]")
}
