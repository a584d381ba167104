package browser_test

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"parcours.example/internal/browsertest"
)

// openTimes opens a demo, with its riders and times.
func openTimes(t *testing.T) *tab {
	t.Helper()
	b := newTab(t)
	b.Open("/#demo=skarnholt-hill-climb")
	b.WaitVisible("#predict")
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
	b.T.Helper()
	var kept memory
	if err := json.Unmarshal([]byte(eval[string](b, `localStorage.getItem("parcours.riders.1") ?? "{}"`)), &kept); err != nil {
		b.T.Fatal(err)
	}
	return kept
}

func TestPredict(t *testing.T) {
	b := openTimes(t)
	b.Click("#predict")
	b.WaitText("#times caption", "Predicted times")
	b.WaitText("#times caption", "90 %")
	names := b.Texts("#times table tbody th")
	if len(names) < 2 || names[0] != "Light" || names[1] != "Heavy" {
		t.Errorf("rows %q", names)
	}
	if n := b.Count("#times .caution li"); n < 4 {
		t.Errorf("%d cautions", n)
	}
	b.WaitText("#times caption", "Times of Light at each place")
	b.Set("#ride", "Heavy")
	b.WaitText("#times caption", "Times of Heavy at each place")
	eval[bool](b, "document.querySelectorAll('#times details').forEach(d => d.open = true) ?? true")
	b.WaitText("#times td", "Martin et al.")
	b.WaitText("#times td", "97.7 %")
	b.WaitFor("#times figure svg")
	b.CheckAccessible("predicted", "#times")
	b.Set("#units", "imperial")
	b.WaitText("#times td", "mph")
}

func TestPlan(t *testing.T) {
	b := openTimes(t)
	b.Set("#plan-against", "true")
	b.Click("#plan-power")
	b.WaitText("#times caption", "Planned times")
	b.WaitText("#times caption", "Steps that Light can keep to")
	b.WaitText("#times td", "the plan gains")
	b.WaitFor("#plans figure svg")
	b.CheckAccessible("planned", "#times")
}

// A request is in SI to the contract whatever people type in, and switching units changes
// what is shown alone.
func TestRidersInEitherUnit(t *testing.T) {
	b := openTimes(t)
	b.Set("#units", "imperial")
	if got := b.Value("#rider-1-mass_kg"); got != "132.3" {
		t.Errorf("60 kg is shown as %s lb", got)
	}
	b.TypeIn("#rider-2-mass_kg", "150")
	b.Set("#units", "metric")
	riders := b.kept().Riders
	if riders[0].MassKg != 60 || riders[1].MassKg != 68.0388555 {
		t.Errorf("masses %v and %v kg", riders[0].MassKg, riders[1].MassKg)
	}
	b.TypeIn("#rider-1-w_prime_j", "14.2")
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
	b.TypeIn("#rider-1-name", "Tove <b>@here</b>")
	b.Click("#riders summary")
	b.Click("#add-rider")
	if n := b.Count("#riders .one"); n != 3 {
		t.Fatalf("%d forms", n)
	}
	b.TypeIn("#rider-3-mass_kg", "71")
	b.Reload()
	b.WaitVisible("#predict")
	if got := b.Value("#rider-1-name"); got != "Tove <b>@here</b>" {
		t.Errorf("name %q", got)
	}
	if riders := b.kept().Riders; len(riders) != 3 || riders[2].MassKg != 71 {
		t.Errorf("%+v", riders)
	}
	if address := b.Address(); strings.Contains(address, "Tove") || strings.Contains(address, "71") {
		t.Errorf("address %s", address)
	}
	b.Click("#forget")
	if n := b.Count("#riders .one"); n != 2 {
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
		b.Open("/docs")
		eval[bool](b, "localStorage.setItem('parcours.riders.1', "+browsertest.Quote(broken)+") ?? true")
		b.Open("/#demo=skarnholt-hill-climb")
		b.WaitVisible("#predict")
		if n := b.Count("#riders .one"); n < 2 {
			t.Errorf("%s: %d forms", broken, n)
		}
	}
}

// What isn't right is told at its field, before sending where the page can know it and
// after the service's answer else.
func TestRidersThatAreWrong(t *testing.T) {
	b := openTimes(t)
	b.TypeIn("#rider-1-mass_kg", "700")
	eval[bool](b, "document.querySelector('#riders .one').open = false || true")
	b.Click("#predict")
	b.Wait("focus on the mass", "document.activeElement.id === 'rider-1-mass_kg'")
	b.TypeIn("#rider-1-mass_kg", "70")
	b.Set("#rider-2-w_prime_j", "")
	b.Click("#plan-power")
	b.WaitText("#plans td", "rider 2 has no w_prime_j")
	b.WaitText("#rider-2-w_prime_j-wrong", "w_prime_j")

	b.Click("#riders .remove")
	b.Allow(422)
	b.Click("#plan-power")
	b.Wait("focus on W′", "document.activeElement.id === 'rider-2-w_prime_j'")
	if got := b.Attribute("#rider-2-w_prime_j", "aria-invalid"); got != "true" {
		t.Errorf("aria-invalid %q", got)
	}
	b.WaitText("#rider-2-w_prime_j-wrong", "w_prime_j")
	b.WaitText("#times .problem", "A plan needs")
	b.CheckAccessible("refused", "#riders", "#times")
	b.TypeIn("#rider-2-w_prime_j", "20")
	b.WaitGone("#rider-2-w_prime_j-wrong")
}

// A rider who can't get up there has that said in the row, and the others have times.
func TestCannotClimb(t *testing.T) {
	b := openTimes(t)
	b.Set("#effort-kind", `"power_per_mass"`)
	b.TypeIn("#effort-w_per_kg", "0.6")
	b.Click("#predict")
	b.WaitText("#times td", "can't get up there: a halt at")
}

func TestTooManyPlans(t *testing.T) {
	b := newTab(t)
	b.Open("/docs")
	one := `{"mass_kg": 70, "critical_power_w": 250, "w_prime_j": 20000}`
	kept := `{"riders": [` + strings.Repeat(one+",", 10) + one + `], "setups": [{"name": "A"}, {"name": "B"}]}`
	eval[bool](b, "localStorage.setItem('parcours.riders.1', "+browsertest.Quote(kept)+") ?? true")
	b.Open("/#demo=skarnholt-hill-climb")
	b.WaitVisible("#predict")
	b.Allow(422)
	b.Click("#plan-power")
	b.WaitText("#times .problem", "at most 1000")
}

func TestFit(t *testing.T) {
	b := openTimes(t)
	eval[bool](b, "document.querySelector('#riders .one details.no-print').open = true")
	for i, effort := range [][2]string{{"3:00", "350"}, {"7:00", "300"}, {"12:00", "281"}} {
		at := "#rider-1-effort-" + string(rune('1'+i))
		b.TypeIn(at+"-duration_s", effort[0])
		b.TypeIn(at+"-power_w", effort[1])
	}
	b.Press("\r")
	b.WaitText("#riders .told", "± is one standard error")
	if got := b.Text("#riders summary"); strings.Contains(got, "critical power 250 W") {
		t.Errorf("the summary is still %q", got)
	}
	if got := b.kept().Riders[0].CriticalPowerW; got < 250 || got > 265 {
		t.Errorf("critical power %v W", got)
	}
	b.CheckAccessible("fitted", "#riders")
}

func TestStop(t *testing.T) {
	b := newTab(t)
	b.Open("/#demo=ludwether-mountain-stage")
	b.WaitVisible("#predict")
	b.Click("#plan-power")
	b.Click("#plans .stop")
	b.WaitText("#plans [role=status]", "Stopped.")
	if at := eval[string](b, "document.activeElement.id"); at != "plan-power" {
		t.Errorf("the focus went to %q", at)
	}
}

// On paper stand the riders in a line each, the tables, and pictures in greys.
func TestPrintTimes(t *testing.T) {
	b := openTimes(t)
	b.Set("#theme", "dark")
	b.Click("#predict")
	b.WaitFor("#times figure .on-paper")
	b.Media("print", browsertest.Dark)
	b.Wait("the rides in greys", "document.querySelector('#times .on-paper').naturalWidth === 960")
	b.WaitVisible("#times .on-paper")
	b.WaitVisible("#riders summary")
	for _, selector := range []string{"#riders form", "#add-rider", "#forget", "#predict", "#plans form", "#times .sheet", "#ride"} {
		if b.Visible(selector) {
			t.Errorf("%s is printed", selector)
		}
	}
	b.Picture("times-printed")
}

// A request holds what was typed, in the contract's units, and nothing else: the rest is
// left to the service.
func TestRequestsHoldWhatIsTyped(t *testing.T) {
	b := openTimes(t)
	b.Set("#units", "imperial")
	b.TypeIn("#rider-2-height_m", "74")
	b.Click("#riders .one details > summary")
	b.TypeIn("#rider-1-gross_efficiency", "23")
	b.TypeIn("#conditions-temperature_c", "12.5")
	b.Set("#conditions-wind", "1")
	b.TypeIn("#conditions-wind_mps", "10")
	b.TypeIn("#conditions-wind_from_deg", "250")
	b.Set("#effort-kind", `"time"`)
	b.TypeIn("#effort-time_s", "17:30")
	b.Click("#predict")
	b.WaitText("#times p", "in 17:30; temperature 12.5 °C; wind 10.0 mph; wind from 250°")
	riders := `"riders": [
		{"name": "Light", "mass_kg": 60, "power_w": 225, "critical_power_w": 250, "w_prime_j": 16000, "gross_efficiency": 0.23},
		{"name": "Heavy", "mass_kg": 82, "height_m": 1.8796, "power_w": 290, "critical_power_w": 320, "w_prime_j": 22000}]`
	b.checkSent(`{` + riders + `, "effort": {"kind": "time", "time_s": 1050},
		"conditions": {"temperature_c": 12.5, "wind_mps": 4.4704, "wind_from_deg": 250}}`)

	b.Set("#conditions-indoor", "true")
	b.Set("#effort-kind", `"fraction"`)
	b.TypeIn("#effort-of_critical_power", "92.5")
	b.Click("#predict")
	b.WaitText("#times p", "at 92.5 % of critical power; indoors")
	b.checkSent(`{` + riders + `, "effort": {"kind": "fraction", "of_critical_power": 0.925},
		"conditions": {"indoor": true, "temperature_c": 12.5}}`)
}

// checkSent holds the last request of predictions, without its course, against what it
// should be.
func (b *tab) checkSent(want string) {
	b.T.Helper()
	var sent, wanted map[string]any
	for _, r := range b.Requests() {
		if strings.HasSuffix(r.URL, "/v1/predictions") {
			if err := json.Unmarshal([]byte(r.Body), &sent); err != nil {
				b.T.Fatal(err)
			}
		}
	}
	if err := json.Unmarshal([]byte(want), &wanted); err != nil {
		b.T.Fatal(err)
	}
	delete(sent, "course")
	if !reflect.DeepEqual(sent, wanted) {
		b.T.Errorf("sent %v, not %v", sent, wanted)
	}
}

// Riders are added, described and taken away by the keyboard alone, which never loses its
// place.
func TestRidersByKeyboard(t *testing.T) {
	b := openTimes(t)
	eval[any](b, `document.querySelector("#add-rider").focus() ?? true`)
	b.Press("\r")
	b.Wait("focus on the new rider's name", "document.activeElement.id === 'rider-3-name'")
	b.Press("Tove")
	b.Press(kb.Tab)
	b.Press("64")
	b.WaitText("#riders summary", "Tove · 64 kg")
	eval[any](b, `document.querySelectorAll("#riders .remove")[2].focus() ?? true`)
	b.Press("\r")
	b.Wait("focus where the next rider would be added", "document.activeElement.id === 'add-rider'")
	eval[any](b, `document.querySelector("#riders .remove").focus() ?? true`)
	b.Press("\r")
	b.Wait("focus on the rider after", "document.activeElement.innerText.startsWith('Heavy')")
	if n := b.Count("#riders .one"); n != 1 {
		t.Errorf("%d forms", n)
	}
}

// What was predicted of one course doesn't stand beside another.
func TestTimesGoWithTheirCourse(t *testing.T) {
	b := openTimes(t)
	b.Click("#predict")
	b.WaitFor("#times figure svg")
	b.TypeIn("#rider-1-mass_kg", "58")
	b.WaitText("#times [role=status]", "predict again")
	b.Click("[data-demo=quellmere-criterium]")
	b.WaitText("#open [role=status]", "Quellmere")
	if n := b.Count("#times table, #times figure svg, #times .caution"); n != 0 {
		t.Errorf("%d results of the course before", n)
	}
	if got := b.Text("#times [role=status]"); got != "" {
		t.Errorf("status %q", got)
	}
}

// A wind from a direction needs to know where the course goes, which a table doesn't say.
func TestWindWithoutPositions(t *testing.T) {
	b := newTab(t)
	b.Open("/")
	b.Choose("#file", "table.csv", []byte("distance_m,elevation_m\n0,100\n1000,110\n2500,180\n4000,160\n"))
	b.WaitVisible("#predict")
	b.Set("#conditions-wind", "1")
	b.TypeIn("#conditions-wind_mps", "15")
	b.TypeIn("#conditions-wind_from_deg", "250")
	b.Allow(422)
	b.Click("#predict")
	b.Wait("focus on the wind", "document.activeElement.id === 'conditions-wind_mps'")
	b.WaitText("#conditions-wind_mps-wrong", "positions")
	b.Set("#conditions-wind", "2")
	b.TypeIn("#conditions-headwind_mps", "-5")
	b.Click("#predict")
	b.WaitText("#times p", "headwind -5.0 km/h")
	b.WaitGone("#times .problem")
}
