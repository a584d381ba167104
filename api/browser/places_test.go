package browser_test

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"parcours.example/internal/browsertest"
)

// cursorM is where the cursor is.
func (b *tab) cursorM() float64 {
	b.T.Helper()
	return eval[float64](b, "Number(document.querySelector('#cursor').value)")
}

const currentPlace = ".next tr[aria-current]"

func TestPlaceIsShown(t *testing.T) {
	b := newTab(t)
	b.openDemo("morvask-laps-and-climb")
	b.Click(".next tbody tr:nth-child(3) button")
	b.WaitText(currentPlace, "Foot of Summit of Undlebeck")
	if at := b.cursorM(); at < 3470 || at > 3490 {
		t.Errorf("the cursor is at %v m", at)
	}
	b.Press(kb.ArrowDown)
	b.Press(kb.Enter)
	b.WaitText(currentPlace, "Steep part of Summit of Undlebeck begins")
	b.WaitText(".readout", "lap 1")

	b.Set("#cursor", "48819")
	b.WaitText(currentPlace, "Finish")
	b.WaitText("#places .told", "Nothing comes any more.")
	if !eval[bool](b, `(() => {
		const box = document.querySelector(".next .wide").getBoundingClientRect(), row = document.querySelector("tr[aria-current]").getBoundingClientRect();
		return row.top >= box.top && row.bottom <= box.bottom;
	})()`) {
		t.Error("the row of the cursor is out of sight")
	}
}

func TestPlacesOfOneLap(t *testing.T) {
	b := newTab(t)
	b.openDemo("morvask-laps-and-climb")
	all := b.Count(".next tbody tr")
	b.Set("#places-part", "2")
	b.WaitText(".next tbody tr", "Lap 2, Morvask gate")
	if n := b.Count(".next tbody tr"); n == 0 || n >= all/3 {
		t.Errorf("%d of %d places on one lap", n, all)
	}
	for _, lap := range b.Texts("#places h3 + .wide tbody td:nth-child(2)") {
		if strings.HasPrefix(lap, "lap") && lap != "lap 2" {
			t.Errorf("a climb of %s", lap)
		}
	}
	b.Set("#places-part", "cursor")
	b.WaitText(".next tbody tr", "Start")
	b.Set("#cursor", "47000")
	b.WaitText(".next tbody tr", "Foot of Summit of the Wall")
}

func TestCursorByKeys(t *testing.T) {
	b := newTab(t)
	b.openDemo("skarnholt-hill-climb")
	b.Do("focus", chromedp.Focus(chromedp.CSS("#picture")))
	b.Press(kb.ArrowRight)
	b.Wait("a small step", "Math.abs(document.querySelector('#cursor').value - 3994.7 / 500) < 0.1")
	b.Press(kb.ArrowRight, chromedp.KeyModifiers(8))
	b.Wait("a big step", "Math.abs(document.querySelector('#cursor').value - 11 * 3994.7 / 500) < 0.1")
	b.Press(kb.End)
	b.WaitText(".readout", "0 m to go")
}

func TestCloseUpHasItsOwnRange(t *testing.T) {
	b := newTab(t)
	b.openDemo("morvask-laps-and-climb")
	b.Set("#focus-climb", "climb-1")
	b.Wait("the close-up", "document.querySelector('#picture title')?.textContent.includes('Undlebeck') && document.querySelector('#cursor').max < 6000")
	if at := b.cursorM(); at < 3470 || at > 3490 {
		t.Errorf("the cursor is at %v m, not at the foot", at)
	}
	b.Wait("the line", "document.querySelector('#picture .here line') !== null")

	// On a later pass the same picture serves, and the cursor stays on that pass.
	b.Set("input[name=focus][value=course]", "true")
	b.Wait("the course", "document.querySelector('#cursor').max > 48000")
	b.Set("#cursor", "11500")
	b.Set("#focus-climb", "climb-1")
	b.Wait("the second pass", "document.querySelector('#cursor').min > 10000 && document.querySelector('#cursor').max < 14000")
	b.Wait("the line", "document.querySelector('#picture .here line') !== null")
	if at := b.cursorM(); at < 11499 || at > 11501 {
		t.Errorf("the cursor left its place for %v m", at)
	}
}

func TestPlacesOfYourOwn(t *testing.T) {
	b := newTab(t)
	b.openDemo("morvask-laps-and-climb")
	b.Set("#cursor", "6000")
	b.Click("#open summary")
	b.TypeIn("#mark-name", "Mill <b>&amp; barn")
	b.Set("#mark-kind", `"feed"`)
	b.Click("#mark-here")
	if at := b.Value("#mark-at_m"); at != "6" {
		t.Errorf("here is %q km", at)
	}
	b.Click("#mark-add")
	b.WaitText("#places th", "Mill <b>&amp; barn")
	b.WaitText("#open details li", "Mill <b>&amp; barn, feed, at 6.0 km")
	if a := b.Address(); !strings.Contains(a, "mark=name") {
		t.Errorf("the address %s lacks the place", a)
	}
	b.Reload()
	b.WaitText("#places th", "Mill <b>&amp; barn")
	b.Click("#open summary")
	b.WaitText("#open details li", "Mill <b>&amp; barn")
	b.Click("#open details li button")
	b.Wait("the place to be gone", "![...document.querySelectorAll('#places th')].some(e => e.innerText.includes('Mill'))")
}

func TestOptionAtFault(t *testing.T) {
	b := newTab(t)
	b.openDemo("skarnholt-hill-climb")
	b.Allow(http.StatusUnprocessableEntity)
	b.Click("#open summary")
	b.TypeIn("#option-laps", "3")
	b.Click("#option-apply")
	b.WaitText("#open .problem", "can't be ridden as laps")
	if b.Attribute("#option-laps", "aria-invalid") != "true" || b.Text("#option-laps-wrong") == "" || !eval[bool](b, "document.activeElement.id === 'option-laps'") {
		t.Error("the field at fault isn't shown")
	}
	b.CheckView("option-fault", browsertest.NarrowLight)
	b.TypeIn("#option-laps", "1")
	b.Set("#option-reverse", "true")
	b.Set("#option-laps", "")
	b.Click("#option-apply")
	b.WaitGone("#open .problem")
	b.Wait("the field to be right", "!document.querySelector('#option-laps').hasAttribute('aria-invalid')")
}

func TestCutIsTypedInTheUnitsShown(t *testing.T) {
	b := newTab(t)
	b.openDemo("morvask-laps-and-climb&units=imperial")
	b.Click("#open summary")
	b.TypeIn("#option-start_m", "1")
	b.Click("#option-apply")
	b.WaitText("#profile dd", "29.3 miles")
	if a := b.Address(); !strings.Contains(a, "start_m=1609.344") {
		t.Errorf("address %s", a)
	}
	b.Set("#units", "metric")
	b.Wait("kilometres", "document.querySelector('#option-start_m').value === '1.609'")
	b.Click("#option-apply")
	b.WaitText("#open [role=status]", "is open")
	if a := b.Address(); !strings.Contains(a, "start_m=1609.344") {
		t.Errorf("the cut moved by being shown: %s", a)
	}
}

func TestTooLargeIsNotSent(t *testing.T) {
	b := newTab(t)
	b.Open("/")
	b.WaitVisible("label[for=file]")
	b.Choose("#file", "large.gpx", make([]byte, 33_554_433))
	b.WaitText(".problem", "33,554,433 bytes; up to 33,554,432")
	if slices.ContainsFunc(b.Requests(), func(r browsertest.Request) bool { return r.Method == http.MethodPost }) {
		t.Error("it was sent")
	}
}

func TestFaultHasItsPlaceInTheFile(t *testing.T) {
	b := newTab(t)
	b.Allow(http.StatusUnprocessableEntity)
	b.Open("/")
	b.WaitVisible("label[for=file]")
	b.Drop("label[for=file]", "pole.gpx", []byte("<gpx version=\"1.1\"><trk><trkseg><trkpt lat=\"47\" lon=\"3.2\"/>\n<trkpt lat=\"91\" lon=\"3.2\"/></trkseg></trk></gpx>"))
	b.WaitText(".problem", "line 2, point 2")
}

// TestDownloadsAreTheServicesBytes holds files against what the service answers.
func TestDownloadsAreTheServicesBytes(t *testing.T) {
	b := newTab(t)
	b.openDemo("hoskerrow-eight&focus=map&name=..%2FC%C3%B3n%20%22%C2%BD%22")
	id := eval[string](b, "fetch('/demos/hoskerrow-eight').then(r => r.blob()).then(body => fetch('/v1/courses?name=' + encodeURIComponent('../Cón \"½\"'), {method: 'POST', body, headers: {'Content-Type': 'application/gpx+xml'}})).then(r => r.json()).then(c => c.course_id)")
	brief := fmt.Sprintf(`{"course": {"course_id": %q}, "units": "metric", "max_chars": 280}`, id)
	b.Set("#brief-times", "false")
	b.Set("#take-chars", "280")
	b.Set("#take-width", "480")
	b.Set("#take-theme", "print")
	b.Set("#take-geometry", "true")
	for _, c := range []struct{ button, name, accept, path, body string }{
		{"#take-svg", "con-1-2-map.svg", "image/svg+xml", "/v1/courses/" + id + "/profile?focus=map&width=480&theme=print", ""},
		{"#take-png", "con-1-2-map.png", "image/png", "/v1/courses/" + id + "/profile?focus=map&width=480&theme=print", ""},
		{"#take-course", "con-1-2-course.json", "application/json", "/v1/courses/" + id + "?include=geometry", ""},
		{"#take-markdown", "con-1-2-brief.md", "text/markdown", "/v1/briefs", brief},
		{"#take-text", "con-1-2-brief.txt", "text/plain", "/v1/briefs", brief},
		{"#take-brief", "con-1-2-brief.json", "application/json", "/v1/briefs", brief},
		{"#take-itinerary", "con-1-2-itinerary.csv", "text/csv", "/v1/briefs", fmt.Sprintf(`{"course": {"course_id": %q}, "units": "metric", "itinerary": {}}`, id)},
	} {
		name, got := b.Download(func() { b.Click(c.button) })
		if want := b.ask(c.path, c.accept, c.body); name != c.name || !bytes.Equal(got, want) {
			t.Errorf("%s: %d bytes as %s; the service has %d for %s", c.button, len(got), name, len(want), c.name)
		}
	}
}

// TestRidesAreTakenAlong: predictions that are shown are a file to take, as the service
// answered them.
func TestRidesAreTakenAlong(t *testing.T) {
	b := newTab(t)
	b.openDemo("skarnholt-hill-climb")
	if b.Visible("#take-predictions") {
		t.Error("there are predictions before any were asked for")
	}
	b.Click("#predict")
	b.WaitVisible("#take-predictions")
	asked := slices.IndexFunc(b.Requests(), func(r browsertest.Request) bool { return strings.HasSuffix(r.URL, "/v1/predictions") })
	name, got := b.Download(func() { b.Click("#take-predictions") })
	if want := b.ask("/v1/predictions", "application/json", b.Requests()[asked].Body); name != "skarnholt-hill-climb-predictions.json" || !bytes.Equal(got, want) {
		t.Errorf("%d bytes as %s, not %d", len(got), name, len(want))
	}
}

// ask asks the service past the page, with a JSON body if there is one.
func (b *tab) ask(path, accept, body string) []byte {
	b.T.Helper()
	method := http.MethodGet
	if body != "" {
		method = http.MethodPost
	}
	r, err := http.NewRequestWithContext(b.T.Context(), method, b.Origin+path, strings.NewReader(body))
	if err != nil {
		b.T.Fatal(err)
	}
	r.Header.Set("Accept", accept)
	if body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		b.T.Fatal(err)
	}
	defer func() { _ = answer.Body.Close() }()
	content, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != http.StatusOK {
		b.T.Fatalf("%s: status %d: %v", path, answer.StatusCode, err)
	}
	return content
}

func TestLinkIsCopied(t *testing.T) {
	b := newTab(t)
	b.openDemo("skarnholt-hill-climb&units=imperial&focus=climb-1")
	b.Click("#take-link")
	b.WaitText("#take [role=status]", "copied")
	if got := b.Clipboard(); got != b.Origin+"/#demo=skarnholt-hill-climb&units=imperial&focus=climb-1" {
		t.Errorf("copied %s", got)
	}
}
