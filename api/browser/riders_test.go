package browser_test

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"
)

// openTimes opens a demo, with its riders and times.
func openTimes(t *testing.T) *tab {
	t.Helper()
	b := newTab(t)
	b.open("/#demo=skarnholt-hill-climb")
	b.waitVisible("#predict")
	return b
}

// rider is the part of a rider in the page's store that the tests look at.
type rider struct {
	Name            string
	MassKg          float64 `json:"mass_kg"`
	CriticalPowerW  float64 `json:"critical_power_w"`
	WPrimeJ         float64 `json:"w_prime_j"`
	GrossEfficiency float64 `json:"gross_efficiency"`
}

// memory is the part of what the browser keeps that the tests look at.
type memory struct {
	Riders []rider
}

// kept reads what the browser keeps of riders.
func (b *tab) kept() memory {
	b.t.Helper()
	var kept memory
	if err := json.Unmarshal([]byte(eval[string](b, `localStorage.getItem("parcours.riders.1") ?? "{}"`)), &kept); err != nil {
		b.t.Fatal(err)
	}
	return kept
}

func TestPredict(t *testing.T) {
	b := openTimes(t)
	b.click("#predict")
	b.waitText("#times caption", "Predicted times")
	b.waitText("#times caption", "90 %")
	names := b.texts("#times table tbody th")
	if len(names) < 2 || names[0] != "Light" || names[1] != "Heavy" {
		t.Errorf("rows %q", names)
	}
	if n := b.count("#times .caution li"); n < 4 {
		t.Errorf("%d cautions", n)
	}
	b.waitText("#times caption", "Times of Light at each place")
	b.set("#ride", "Heavy")
	b.waitText("#times caption", "Times of Heavy at each place")
	eval[bool](b, "document.querySelectorAll('#times details').forEach(d => d.open = true) ?? true")
	b.waitText("#times td", "Martin et al.")
	b.waitText("#times td", "97.7 %")
	b.waitFor("#times figure svg")
	b.checkAccessible("predicted", "#times")
	b.set("#units", "imperial")
	b.waitText("#times td", "mph")
}

func TestPlan(t *testing.T) {
	b := openTimes(t)
	b.set("#plan-against", "true")
	b.click("#plan-power")
	b.waitText("#times caption", "Planned times")
	b.waitText("#times caption", "Steps that Light can keep to")
	b.waitText("#times td", "the plan gains")
	b.waitFor("#plans figure svg")
	b.checkAccessible("planned", "#times")
}

// A request is in SI to the contract whatever people type in, and switching units changes
// what is shown alone.
func TestRidersInEitherUnit(t *testing.T) {
	b := openTimes(t)
	b.set("#units", "imperial")
	if got := b.value("#rider-1-mass_kg"); got != "132.3" {
		t.Errorf("60 kg is shown as %s lb", got)
	}
	b.typeIn("#rider-2-mass_kg", "150")
	b.set("#units", "metric")
	riders := b.kept().Riders
	if riders[0].MassKg != 60 || riders[1].MassKg != 68.0388555 {
		t.Errorf("masses %v and %v kg", riders[0].MassKg, riders[1].MassKg)
	}
	b.typeIn("#rider-1-w_prime_j", "14.2")
	if got := b.kept().Riders[0].WPrimeJ; got != 14200 {
		t.Errorf("W′ of %v J", got)
	}
}

// Riders come back with the page, never stand in its address, and can be forgotten.
func TestRidersAreRemembered(t *testing.T) {
	b := openTimes(t)
	if text := eval[string](b, `localStorage.getItem("parcours.riders.1") ?? ""`); text != "" {
		t.Errorf("kept before anything was typed: %s", text)
	}
	b.typeIn("#rider-1-name", "Tove <b>@here</b>")
	b.click("#riders summary")
	b.click("#add-rider")
	if n := b.count("#riders .one"); n != 3 {
		t.Fatalf("%d forms", n)
	}
	b.typeIn("#rider-3-mass_kg", "71")
	b.reload()
	b.waitVisible("#predict")
	if got := b.value("#rider-1-name"); got != "Tove <b>@here</b>" {
		t.Errorf("name %q", got)
	}
	if riders := b.kept().Riders; len(riders) != 3 || riders[2].MassKg != 71 {
		t.Errorf("%+v", riders)
	}
	if address := b.address(); strings.Contains(address, "Tove") || strings.Contains(address, "71") {
		t.Errorf("address %s", address)
	}
	b.click("#forget")
	if n := b.count("#riders .one"); n != 2 {
		t.Errorf("%d forms", n)
	}
	if text := eval[string](b, `localStorage.getItem("parcours.riders.1") ?? ""`); text != "" {
		t.Errorf("still kept: %s", text)
	}
}

// Whatever else is kept there does no harm.
func TestBrokenMemory(t *testing.T) {
	b := newTab(t)
	for _, broken := range []string{
		`{`, `{"riders": 3, "setups": []}`, `{"riders": [null, 7, {"mass_kg": -3, "name": {"a": 1}, "w_prime_j": "12"}], "setups": [{"crr": 1e9}], "effort": {"kind": "none"}}`,
	} {
		b.open("/docs")
		eval[bool](b, "localStorage.setItem('parcours.riders.1', "+quote(broken)+") ?? true")
		b.open("/#demo=skarnholt-hill-climb")
		b.waitVisible("#predict")
		if n := b.count("#riders .one"); n < 2 {
			t.Errorf("%s: %d forms", broken, n)
		}
	}
}

// What isn't right is told at its field, before sending where the page can know it and
// after the service's answer else.
func TestRidersThatAreWrong(t *testing.T) {
	b := openTimes(t)
	b.typeIn("#rider-1-mass_kg", "700")
	eval[bool](b, "document.querySelector('#riders .one').open = false || true")
	b.click("#predict")
	b.wait("focus on the mass", "document.activeElement.id === 'rider-1-mass_kg'")
	b.typeIn("#rider-1-mass_kg", "70")
	b.set("#rider-2-w_prime_j", "")
	b.click("#plan-power")
	b.waitText("#plans td", "rider 2 has no w_prime_j")
	b.waitText("#rider-2-w_prime_j-wrong", "w_prime_j")

	b.click("#riders .remove")
	b.allow(422)
	b.click("#plan-power")
	b.wait("focus on W′", "document.activeElement.id === 'rider-2-w_prime_j'")
	if got := b.attribute("#rider-2-w_prime_j", "aria-invalid"); got != "true" {
		t.Errorf("aria-invalid %q", got)
	}
	b.waitText("#rider-2-w_prime_j-wrong", "w_prime_j")
	b.waitText("#times .problem", "A plan needs")
	b.checkAccessible("refused", "#riders", "#times")
	b.typeIn("#rider-2-w_prime_j", "20")
	b.waitGone("#rider-2-w_prime_j-wrong")
}

// A rider who can't get up there has that said in the row, and the others have times.
func TestCannotClimb(t *testing.T) {
	b := openTimes(t)
	b.set("#effort-kind", `"power_per_mass"`)
	b.typeIn("#effort-w_per_kg", "0.6")
	b.click("#predict")
	b.waitText("#times td", "can't get up there: a halt at")
}

func TestTooManyPlans(t *testing.T) {
	b := newTab(t)
	b.open("/docs")
	one := `{"mass_kg": 70, "critical_power_w": 250, "w_prime_j": 20000}`
	kept := `{"riders": [` + strings.Repeat(one+",", 10) + one + `], "setups": [{"name": "A"}, {"name": "B"}]}`
	eval[bool](b, "localStorage.setItem('parcours.riders.1', "+quote(kept)+") ?? true")
	b.open("/#demo=skarnholt-hill-climb")
	b.waitVisible("#predict")
	b.allow(422)
	b.click("#plan-power")
	b.waitText("#times .problem", "at most 1000")
}

func TestFit(t *testing.T) {
	b := openTimes(t)
	eval[bool](b, "document.querySelector('#riders .one details.no-print').open = true")
	for i, effort := range [][2]string{{"3:00", "350"}, {"7:00", "300"}, {"12:00", "281"}} {
		at := "#rider-1-effort-" + string(rune('1'+i))
		b.typeIn(at+"-duration_s", effort[0])
		b.typeIn(at+"-power_w", effort[1])
	}
	b.press("\r")
	b.waitText("#riders .told", "± is one standard error")
	if got := b.kept().Riders[0].CriticalPowerW; got < 250 || got > 265 {
		t.Errorf("critical power %v W", got)
	}
	b.checkAccessible("fitted", "#riders")
}

func TestStop(t *testing.T) {
	b := newTab(t)
	b.open("/#demo=ludwether-mountain-stage")
	b.waitVisible("#predict")
	b.click("#plan-power")
	b.click("#plans .stop")
	b.waitText("#plans [role=status]", "Stopped.")
	if at := eval[string](b, "document.activeElement.id"); at != "plan-power" {
		t.Errorf("the focus went to %q", at)
	}
}

// On paper stand the riders in a line each, the tables, and pictures in greys.
func TestPrintTimes(t *testing.T) {
	b := openTimes(t)
	b.set("#theme", "dark")
	b.click("#predict")
	b.waitFor("#times figure .on-paper")
	b.media("print", dark)
	b.wait("the rides in greys", "document.querySelector('#times .on-paper').naturalWidth === 960")
	b.waitVisible("#times .on-paper")
	b.waitVisible("#riders summary")
	for _, selector := range []string{"#riders form", "#add-rider", "#forget", "#predict", "#plans form", "#times .sheet", "#ride"} {
		if b.visible(selector) {
			t.Errorf("%s is printed", selector)
		}
	}
	b.picture("times-printed")
}

// A request holds what was typed, in the contract's units, and nothing else: the rest is
// left to the service.
func TestRequestsHoldWhatIsTyped(t *testing.T) {
	b := openTimes(t)
	b.set("#units", "imperial")
	b.typeIn("#rider-2-height_m", "74")
	b.click("#riders .one details > summary")
	b.typeIn("#rider-1-gross_efficiency", "23")
	b.typeIn("#conditions-temperature_c", "12.5")
	b.set("#conditions-wind", "1")
	b.typeIn("#conditions-wind_mps", "10")
	b.typeIn("#conditions-wind_from_deg", "250")
	b.set("#effort-kind", `"time"`)
	b.typeIn("#effort-time_s", "17:30")
	b.click("#predict")
	b.waitText("#times p", "in 17:30; temperature 12.5 °C; wind 10.0 mph; wind from 250°")
	riders := `"riders": [
		{"name": "Light", "mass_kg": 60, "power_w": 225, "critical_power_w": 250, "w_prime_j": 16000, "gross_efficiency": 0.23},
		{"name": "Heavy", "mass_kg": 82, "height_m": 1.8796, "power_w": 290, "critical_power_w": 320, "w_prime_j": 22000}]`
	b.checkSent(`{` + riders + `, "effort": {"kind": "time", "time_s": 1050},
		"conditions": {"temperature_c": 12.5, "wind_mps": 4.4704, "wind_from_deg": 250}}`)

	b.set("#conditions-indoor", "true")
	b.set("#effort-kind", `"fraction"`)
	b.typeIn("#effort-of_critical_power", "92.5")
	b.click("#predict")
	b.waitText("#times p", "at 92.5 % of critical power; indoors")
	b.checkSent(`{` + riders + `, "effort": {"kind": "fraction", "of_critical_power": 0.925},
		"conditions": {"indoor": true, "temperature_c": 12.5}}`)
}

// checkSent holds the last request of predictions, without its course, against what it
// should be.
func (b *tab) checkSent(want string) {
	b.t.Helper()
	var sent, wanted map[string]any
	for _, r := range b.requests() {
		if strings.HasSuffix(r.url, "/v1/predictions") {
			if err := json.Unmarshal([]byte(r.body), &sent); err != nil {
				b.t.Fatal(err)
			}
		}
	}
	if err := json.Unmarshal([]byte(want), &wanted); err != nil {
		b.t.Fatal(err)
	}
	delete(sent, "course")
	if !reflect.DeepEqual(sent, wanted) {
		b.t.Errorf("sent %v, not %v", sent, wanted)
	}
}

// Riders are added, described and taken away by the keyboard alone, which never loses its
// place.
func TestRidersByKeyboard(t *testing.T) {
	b := openTimes(t)
	eval[any](b, `document.querySelector("#add-rider").focus() ?? true`)
	b.press("\r")
	b.wait("focus on the new rider's name", "document.activeElement.id === 'rider-3-name'")
	b.press("Tove")
	b.press(kb.Tab)
	b.press("64")
	b.waitText("#riders summary", "Tove · 64 kg")
	eval[any](b, `document.querySelectorAll("#riders .remove")[2].focus() ?? true`)
	b.press("\r")
	b.wait("focus where the next rider would be added", "document.activeElement.id === 'add-rider'")
	eval[any](b, `document.querySelector("#riders .remove").focus() ?? true`)
	b.press("\r")
	b.wait("focus on the rider after", "document.activeElement.innerText.startsWith('Heavy')")
	if n := b.count("#riders .one"); n != 1 {
		t.Errorf("%d forms", n)
	}
}

// What was predicted of one course doesn't stand beside another.
func TestTimesGoWithTheirCourse(t *testing.T) {
	b := openTimes(t)
	b.click("#predict")
	b.waitFor("#times figure svg")
	b.typeIn("#rider-1-mass_kg", "58")
	b.waitText("#times [role=status]", "predict again")
	b.click("[data-demo=quellmere-criterium]")
	b.waitText("#open [role=status]", "Quellmere")
	if n := b.count("#times table, #times figure svg, #times .caution"); n != 0 {
		t.Errorf("%d results of the course before", n)
	}
	if got := b.text("#times [role=status]"); got != "" {
		t.Errorf("status %q", got)
	}
}

// A wind from a direction needs to know where the course goes, which a table doesn't say.
func TestWindWithoutPositions(t *testing.T) {
	b := newTab(t)
	b.open("/")
	b.choose("#file", "table.csv", []byte("distance_m,elevation_m\n0,100\n1000,110\n2500,180\n4000,160\n"))
	b.waitVisible("#predict")
	b.set("#conditions-wind", "1")
	b.typeIn("#conditions-wind_mps", "15")
	b.typeIn("#conditions-wind_from_deg", "250")
	b.allow(422)
	b.click("#predict")
	b.wait("focus on the wind", "document.activeElement.id === 'conditions-wind_mps'")
	b.waitText("#conditions-wind_mps-wrong", "positions")
	b.set("#conditions-wind", "2")
	b.typeIn("#conditions-headwind_mps", "-5")
	b.click("#predict")
	b.waitText("#times p", "headwind -5.0 km/h")
	b.waitGone("#times .problem")
}
