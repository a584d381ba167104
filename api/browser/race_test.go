package browser_test

import (
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"
)

// openRace opens a demo whose questions can be asked of the invented riders, on two
// set-ups.
func openRace(t *testing.T, demo string) *tab {
	t.Helper()
	b := newTab(t)
	b.open("/#demo=" + demo)
	b.waitVisible("#race-comparisons")
	for i, name := range []string{"Smooth", "Light wheels"} {
		b.click("#add-set-up")
		b.typeIn(fmt.Sprintf("#setup-%d-name", i+1), name)
	}
	b.typeIn("#setup-1-cda_change_m2", "-0.02")
	b.typeIn("#setup-2-mass_kg", "6.8")
	return b
}

// askRace opens a question, asks it and waits for its answer.
func (b *tab) askRace(path string) {
	b.t.Helper()
	if !b.visible("#race-" + path + " form") {
		b.click("#race-" + path + " > summary")
	}
	b.click("#race-" + path + " form button.main")
	b.waitVisible("#race-" + path + " .told")
}

// unfold opens all that is folded in a part.
func (b *tab) unfold(selector string) {
	b.t.Helper()
	eval[bool](b, "document.querySelectorAll("+quote(selector+" details")+").forEach(d => d.open = true) ?? true")
}

// Each question is answered with its recommendation first, in either unit, with its
// cautions in sight, and is told to be old when what it was asked of changes.
func TestQuestionsOfARace(t *testing.T) {
	b := openRace(t, "skarnholt-hill-climb")
	b.set("#change", "true")
	b.set("#change-at", eval[string](b, `[...document.querySelectorAll("#change-at option")].find(o => o.text.startsWith("Gate at the quarry")).value`))
	b.set("#rule-runs", "10")
	for path, caption := range map[string]string{
		"comparisons": "the fastest in bold", "launches": "Where to launch", "aids": "the best places", "scenarios": "Of 10 runs",
	} {
		b.askRace(path)
		b.waitText("#race-"+path+" caption", caption)
		if !b.visible("#race-" + path + " ul.caution") {
			t.Errorf("%s: the cautions aren't seen", path)
		}
	}
	b.checkView("race", narrowLight, "#race")
	b.checkView("race", wideDark, "#race")
	b.waitText("#race-comparisons summary", "From Smooth to Light wheels")
	b.media("print", light)
	if b.visible("#race-aids form") || b.visible("#brief h2") || !b.visible("#race-aids .told") {
		t.Error("on paper are controls, or no answers")
	}
	b.media("screen", light)
	b.set("#units", "imperial")
	b.waitText("#race-launches td", "mph")
	b.waitText("#race-aids td", "miles")
	if shown := strings.Join(b.texts("#race td"), "\n"); strings.Contains(shown, " km/h") {
		t.Error("speeds in km/h beside miles")
	}
	b.typeIn("#rider-1-critical_power_w", "240")
	b.waitText("#race-aids [role=status]", "asked before")
	b.click("[data-demo=quellmere-criterium]")
	b.waitGone("#race .told")
}

// The brief tells the questions that were asked, of the riders as they are by now.
func TestBriefAnswersQuestions(t *testing.T) {
	b := openRace(t, "skarnholt-hill-climb")
	b.typeIn("#conditions-shelter", "80") // has no place in a sprint or a race
	b.set("#rule-runs", "10")
	for _, path := range []string{"comparisons", "launches", "scenarios"} {
		b.askRace(path)
	}
	b.click("#brief-length-0")
	b.click("#brief form button.main")
	b.waitText("#brief h4", "For the overall")
	b.waitText("#brief h4", "How the race is likely to go")
	if b.visible("#brief-aids") {
		t.Error("a question that wasn't asked can be told")
	}
	b.typeIn("#rider-2-name", "Tove")
	b.waitText("#brief article", "Tove")
	b.wait("all to be of the new name", "!document.querySelector('#brief article').innerText.includes('Heavy')")
	b.click("#brief-scenarios")
	b.wait("the race to be left out", "![...document.querySelectorAll('#brief h4')].some(h => h.textContent.startsWith('How the race'))")
}

// A race of riders who are all drawn asks nothing of those given.
func TestRaceOfADrawnField(t *testing.T) {
	b := openRace(t, "quellmere-criterium")
	b.set("#rider-1-mass_kg", "")
	b.click("#race-scenarios > summary")
	b.unfold("#race-scenarios")
	b.set("#field-ours", "false")
	b.typeIn("#drawn-count", "6")
	b.typeIn("#rule-runs", "20")
	b.askRace("scenarios")
	b.waitText("#race-scenarios caption", "Of 20 runs")
	if got := b.count("#race-scenarios .answer > .wide:nth-of-type(1) tbody tr"); got != 6 {
		t.Errorf("odds of %d riders", got)
	}
}

// A long race tells how far it is, and can be stopped.
func TestRaceIsStopped(t *testing.T) {
	b := openRace(t, "quellmere-criterium")
	b.click("#race-scenarios > summary")
	b.unfold("#race-scenarios")
	b.typeIn("#rule-runs", "400")
	b.click("#race-scenarios form button.main")
	b.waitText("#race-scenarios [role=status]", "of 400 runs are done")
	b.click("#race-scenarios .stop")
	b.waitText("#race-scenarios [role=status]", "Stopped.")
	b.waitGone("#race-scenarios progress")
	if b.count("#race-scenarios .told") != 0 {
		t.Error("a stopped race has an answer")
	}
}

// What the service finds wrong is told at the field that it names.
func TestFaultsOfQuestions(t *testing.T) {
	b := openRace(t, "hoskerrow-eight")
	b.click("#race-launches > summary")
	b.unfold("#race-launches")
	b.typeIn("#launch-approach_speed_mps", "50")
	b.typeIn("#launch-demand", "70")
	b.allow(400)
	b.click("#race-launches form button.main")
	b.waitVisible("#race-launches .problem")
	b.waitVisible("#launch-demand-wrong")
	if !eval[bool](b, "document.activeElement.id === 'launch-demand'") {
		t.Error("the reader isn't taken to the field")
	}
	b.set("#launch-demand", "")
	b.askRace("launches")
	if b.visible("#launch-demand-wrong") {
		t.Error("a mended fault is still told")
	}
}

// What is copied is the service's own text, in whichever length and form.
func TestBriefIsCopiedAsItIs(t *testing.T) {
	b := newTab(t)
	b.open("/#demo=morvask-laps-and-climb")
	b.waitVisible("#brief form")
	b.set("#brief-times", "false")
	b.click("#brief form button.main")
	b.waitVisible("[data-copy='0']:enabled")
	id := eval[string](b, `fetch("/demos/morvask-laps-and-climb").then(r => r.blob())
		.then(body => fetch("/v1/courses", {method: "POST", body, headers: {"Content-Type": "application/gpx+xml"}})).then(r => r.json()).then(c => c.course_id)`)
	for _, c := range []struct{ form, accept, length string }{
		{"text", "text/plain", "280"}, {"text", "text/plain", "0"}, {"markdown", "text/markdown", "2000"}, {"markdown", "text/markdown", "4096"},
	} {
		limit := ""
		if c.length != "0" {
			limit = `, "max_chars": ` + c.length
		}
		want := string(b.ask("/v1/briefs", c.accept, `{"course": {"course_id": "`+id+`"}, "units": "metric"`+limit+`}`))
		b.click("#brief-form-" + c.form)
		b.click("[data-copy='" + c.length + "']")
		b.waitText("#brief [role=status]", fmt.Sprintf("%d characters copied", utf8.RuneCountInString(want)))
		if got := b.clipboard(); got != want || !strings.Contains(got, "Morvask") {
			t.Errorf("%s of %s characters: copied\n%s\nnot\n%s", c.form, c.length, got, want)
		}
	}
}

// A browser that keeps its clipboard to itself has the text selected for copying by hand.
func TestBriefIsCopiedByHand(t *testing.T) {
	b := openRace(t, "skarnholt-hill-climb")
	b.click("#brief form button.main")
	b.waitVisible("[data-copy='280']:enabled")
	eval[bool](b, `(navigator.clipboard.writeText = () => Promise.reject(new Error("refused"))) && true`)
	b.click("[data-copy='280']")
	b.waitVisible("#brief textarea")
	if got := eval[string](b, "getSelection().toString()"); got == "" || got != b.value("#brief textarea") {
		t.Errorf("selected %q", got)
	}
}

// A brief that was written follows the units and what else it tells.
func TestBriefIsKeptUpToDate(t *testing.T) {
	b := openRace(t, "skarnholt-hill-climb")
	b.click("#brief form button.main")
	b.waitText("#brief article", "Light")
	b.set("#units", "imperial")
	b.waitText("#brief article", "miles")
	b.set("#brief-itinerary", "true")
	b.waitText("#brief caption", "Itinerary")
	b.unfold("#brief")
	b.typeIn("#itinerary-speed-1", "15")
	b.waitText("#brief thead", "15.0 mph")
	if listed := strings.Join(b.texts("#brief li"), "\n"); strings.Contains(listed, "foot of") {
		t.Errorf("the itinerary is a list besides:\n%s", listed)
	}
	b.checkView("brief", narrowLight, "#brief")
	b.checkView("brief", wideDark, "#brief")
	b.click("[data-demo=quellmere-criterium]")
	b.waitText("#brief h3", "Quellmere")
}
