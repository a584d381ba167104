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
)

// cursorM is where the cursor is.
func (b *tab) cursorM() float64 {
	b.t.Helper()
	return eval[float64](b, "Number(document.querySelector('#cursor').value)")
}

const currentPlace = ".next tr[aria-current]"

func TestPlaceIsShown(t *testing.T) {
	b := newTab(t)
	b.openDemo("morvask-laps-and-climb")
	b.click(".next tbody tr:nth-child(3) button")
	b.waitText(currentPlace, "Foot of Summit of Undlebeck")
	if at := b.cursorM(); at < 3470 || at > 3490 {
		t.Errorf("the cursor is at %v m", at)
	}
	b.press(kb.ArrowDown)
	b.press(kb.Enter)
	b.waitText(currentPlace, "Steep part of Summit of Undlebeck begins")
	b.waitText(".readout", "lap 1")

	b.set("#cursor", "48819")
	b.waitText(currentPlace, "Finish")
	b.waitText("#places .told", "Nothing comes any more.")
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
	all := b.count(".next tbody tr")
	b.set("#places-part", "2")
	b.waitText(".next tbody tr", "Lap 2, Morvask gate")
	if n := b.count(".next tbody tr"); n == 0 || n >= all/3 {
		t.Errorf("%d of %d places on one lap", n, all)
	}
	for _, lap := range b.texts("#places h3 + .wide tbody td:nth-child(2)") {
		if strings.HasPrefix(lap, "lap") && lap != "lap 2" {
			t.Errorf("a climb of %s", lap)
		}
	}
	b.set("#places-part", "cursor")
	b.waitText(".next tbody tr", "Start")
	b.set("#cursor", "47000")
	b.waitText(".next tbody tr", "Foot of Summit of the Wall")
}

func TestCursorByKeys(t *testing.T) {
	b := newTab(t)
	b.openDemo("skarnholt-hill-climb")
	b.do("focus", chromedp.Focus(chromedp.CSS("#picture")))
	b.press(kb.ArrowRight)
	b.wait("a small step", "Math.abs(document.querySelector('#cursor').value - 3994.7 / 500) < 0.1")
	b.press(kb.ArrowRight, chromedp.KeyModifiers(8))
	b.wait("a big step", "Math.abs(document.querySelector('#cursor').value - 11 * 3994.7 / 500) < 0.1")
	b.press(kb.End)
	b.waitText(".readout", "0 m to go")
}

func TestCloseUpHasItsOwnRange(t *testing.T) {
	b := newTab(t)
	b.openDemo("morvask-laps-and-climb")
	b.set("#focus-climb", "climb-1")
	b.wait("the close-up", "document.querySelector('#picture title')?.textContent.includes('Undlebeck') && document.querySelector('#cursor').max < 6000")
	if at := b.cursorM(); at < 3470 || at > 3490 {
		t.Errorf("the cursor is at %v m, not at the foot", at)
	}
	b.wait("the line", "document.querySelector('#picture .here line') !== null")

	// On a later pass the same picture serves, and the cursor stays on that pass.
	b.set("input[name=focus][value=course]", "true")
	b.wait("the course", "document.querySelector('#cursor').max > 48000")
	b.set("#cursor", "11500")
	b.set("#focus-climb", "climb-1")
	b.wait("the second pass", "document.querySelector('#cursor').min > 10000 && document.querySelector('#cursor').max < 14000")
	b.wait("the line", "document.querySelector('#picture .here line') !== null")
	if at := b.cursorM(); at < 11499 || at > 11501 {
		t.Errorf("the cursor left its place for %v m", at)
	}
}

func TestPlacesOfYourOwn(t *testing.T) {
	b := newTab(t)
	b.openDemo("morvask-laps-and-climb")
	b.set("#cursor", "6000")
	b.click("#open summary")
	b.typeIn("#mark-name", "Mill <b>&amp; barn")
	b.set("#mark-kind", `"feed"`)
	b.click("#mark-here")
	if at := b.value("#mark-at_m"); at != "6" {
		t.Errorf("here is %q km", at)
	}
	b.click("#mark-add")
	b.waitText("#places th", "Mill <b>&amp; barn")
	b.waitText("#open details li", "Mill <b>&amp; barn, feed, at 6.0 km")
	if a := b.address(); !strings.Contains(a, "mark=name") {
		t.Errorf("the address %s lacks the place", a)
	}
	b.reload()
	b.waitText("#places th", "Mill <b>&amp; barn")
	b.click("#open summary")
	b.waitText("#open details li", "Mill <b>&amp; barn")
	b.click("#open details li button")
	b.wait("the place to be gone", "![...document.querySelectorAll('#places th')].some(e => e.innerText.includes('Mill'))")
}

func TestOptionAtFault(t *testing.T) {
	b := newTab(t)
	b.openDemo("skarnholt-hill-climb")
	b.allow(http.StatusUnprocessableEntity)
	b.click("#open summary")
	b.typeIn("#option-laps", "3")
	b.click("#option-apply")
	b.waitText("#open .problem", "can't be ridden as laps")
	if b.attribute("#option-laps", "aria-invalid") != "true" || b.text("#option-laps-wrong") == "" || !eval[bool](b, "document.activeElement.id === 'option-laps'") {
		t.Error("the field at fault isn't shown")
	}
	b.checkView("option-fault", narrowLight)
	b.typeIn("#option-laps", "1")
	b.set("#option-reverse", "true")
	b.set("#option-laps", "")
	b.click("#option-apply")
	b.waitGone("#open .problem")
	b.wait("the field to be right", "!document.querySelector('#option-laps').hasAttribute('aria-invalid')")
}

func TestCutIsTypedInTheUnitsShown(t *testing.T) {
	b := newTab(t)
	b.openDemo("morvask-laps-and-climb&units=imperial")
	b.click("#open summary")
	b.typeIn("#option-start_m", "1")
	b.click("#option-apply")
	b.waitText("#profile dd", "29.3 miles")
	if a := b.address(); !strings.Contains(a, "start_m=1609.344") {
		t.Errorf("address %s", a)
	}
	b.set("#units", "metric")
	b.wait("kilometres", "document.querySelector('#option-start_m').value === '1.609'")
	b.click("#option-apply")
	b.waitText("#open [role=status]", "is open")
	if a := b.address(); !strings.Contains(a, "start_m=1609.344") {
		t.Errorf("the cut moved by being shown: %s", a)
	}
}

func TestTooLargeIsNotSent(t *testing.T) {
	b := newTab(t)
	b.open("/")
	b.waitVisible("label[for=file]")
	b.choose("#file", "large.gpx", make([]byte, 33_554_433))
	b.waitText(".problem", "33,554,433 bytes; up to 33,554,432")
	if slices.ContainsFunc(b.requests(), func(r request) bool { return r.method == http.MethodPost }) {
		t.Error("it was sent")
	}
}

func TestFaultHasItsPlaceInTheFile(t *testing.T) {
	b := newTab(t)
	b.allow(http.StatusUnprocessableEntity)
	b.open("/")
	b.waitVisible("label[for=file]")
	b.drop("label[for=file]", "pole.gpx", []byte("<gpx version=\"1.1\"><trk><trkseg><trkpt lat=\"47\" lon=\"3.2\"/>\n<trkpt lat=\"91\" lon=\"3.2\"/></trkseg></trk></gpx>"))
	b.waitText(".problem", "line 2, point 2")
}

// TestDownloadsAreTheServicesBytes holds files against what the service answers.
func TestDownloadsAreTheServicesBytes(t *testing.T) {
	b := newTab(t)
	b.openDemo("hoskerrow-eight&focus=map&name=..%2FC%C3%B3n%20%22%C2%BD%22")
	id := eval[string](b, "fetch('/demos/hoskerrow-eight').then(r => r.blob()).then(body => fetch('/v1/courses?name=' + encodeURIComponent('../Cón \"½\"'), {method: 'POST', body, headers: {'Content-Type': 'application/gpx+xml'}})).then(r => r.json()).then(c => c.course_id)")
	brief := fmt.Sprintf(`{"course": {"course_id": %q}, "units": "metric", "max_chars": 280}`, id)
	b.set("#brief-times", "false")
	b.set("#take-chars", "280")
	b.set("#take-width", "480")
	b.set("#take-theme", "print")
	b.set("#take-geometry", "true")
	for _, c := range []struct{ button, name, accept, path, body string }{
		{"#take-svg", "con-1-2-map.svg", "image/svg+xml", "/v1/courses/" + id + "/profile?focus=map&width=480&theme=print", ""},
		{"#take-png", "con-1-2-map.png", "image/png", "/v1/courses/" + id + "/profile?focus=map&width=480&theme=print", ""},
		{"#take-course", "con-1-2-course.json", "application/json", "/v1/courses/" + id + "?include=geometry", ""},
		{"#take-markdown", "con-1-2-brief.md", "text/markdown", "/v1/briefs", brief},
		{"#take-text", "con-1-2-brief.txt", "text/plain", "/v1/briefs", brief},
		{"#take-brief", "con-1-2-brief.json", "application/json", "/v1/briefs", brief},
		{"#take-itinerary", "con-1-2-itinerary.csv", "text/csv", "/v1/briefs", fmt.Sprintf(`{"course": {"course_id": %q}, "units": "metric", "itinerary": {}}`, id)},
	} {
		name, got := b.download(func() { b.click(c.button) })
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
	if b.visible("#take-predictions") {
		t.Error("there are predictions before any were asked for")
	}
	b.click("#predict")
	b.waitVisible("#take-predictions")
	asked := slices.IndexFunc(b.requests(), func(r request) bool { return strings.HasSuffix(r.url, "/v1/predictions") })
	name, got := b.download(func() { b.click("#take-predictions") })
	if want := b.ask("/v1/predictions", "application/json", b.requests()[asked].body); name != "skarnholt-hill-climb-predictions.json" || !bytes.Equal(got, want) {
		t.Errorf("%d bytes as %s, not %d", len(got), name, len(want))
	}
}

// ask asks the service past the page, with a JSON body if there is one.
func (b *tab) ask(path, accept, body string) []byte {
	b.t.Helper()
	method := http.MethodGet
	if body != "" {
		method = http.MethodPost
	}
	r, err := http.NewRequestWithContext(b.t.Context(), method, b.origin+path, strings.NewReader(body))
	if err != nil {
		b.t.Fatal(err)
	}
	r.Header.Set("Accept", accept)
	if body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		b.t.Fatal(err)
	}
	defer func() { _ = answer.Body.Close() }()
	content, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != http.StatusOK {
		b.t.Fatalf("%s: status %d: %v", path, answer.StatusCode, err)
	}
	return content
}

func TestLinkIsCopied(t *testing.T) {
	b := newTab(t)
	b.openDemo("skarnholt-hill-climb&units=imperial&focus=climb-1")
	b.click("#take-link")
	b.waitText("#take [role=status]", "copied")
	if got := b.clipboard(); got != b.origin+"/#demo=skarnholt-hill-climb&units=imperial&focus=climb-1" {
		t.Errorf("copied %s", got)
	}
}
