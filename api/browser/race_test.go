package browser_test

import (
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"parcours.example/internal/browsertest"
)

// openRace opens a demo whose questions can be asked of the invented riders, on two
// set-ups.
func openRace(t *testing.T, demo string) *tab {
	t.Helper()
	b := newTab(t)
	b.Open("/#demo=" + demo)
	b.WaitVisible("#race-comparisons")
	for i, name := range []string{"Smooth", "Light wheels"} {
		b.Click("#add-set-up")
		b.TypeIn(fmt.Sprintf("#setup-%d-name", i+1), name)
	}
	b.TypeIn("#setup-1-cda_change_m2", "-0.02")
	b.TypeIn("#setup-2-mass_kg", "6.8")
	return b
}

// askRace opens a question, asks it and waits for its answer.
func (b *tab) askRace(path string) {
	b.T.Helper()
	if !b.Visible("#race-" + path + " form") {
		b.Click("#race-" + path + " > summary")
	}
	b.Click("#race-" + path + " form button.main")
	b.WaitVisible("#race-" + path + " .told")
}

// unfold opens all that is folded in a part.
func (b *tab) unfold(selector string) {
	b.T.Helper()
	eval[bool](b, "document.querySelectorAll("+browsertest.Quote(selector+" details")+").forEach(d => d.open = true) ?? true")
}

// Each question is answered with its recommendation first, in either unit, with its
// cautions in sight, and is told to be old when what it was asked of changes.
func TestQuestionsOfARace(t *testing.T) {
	b := openRace(t, "skarnholt-hill-climb")
	b.Set("#change", "true")
	b.Set("#change-at", eval[string](b, `[...document.querySelectorAll("#change-at option")].find(o => o.text.startsWith("Gate at the quarry")).value`))
	b.Set("#rule-runs", "10")
	for path, caption := range map[string]string{
		"comparisons": "the fastest in bold", "launches": "Where to launch", "aids": "the best places", "scenarios": "Of 10 runs",
	} {
		b.askRace(path)
		b.WaitText("#race-"+path+" caption", caption)
		if !b.Visible("#race-" + path + " ul.caution") {
			t.Errorf("%s: the cautions aren't seen", path)
		}
	}
	b.CheckView("race", browsertest.NarrowLight, "#race")
	b.CheckView("race", browsertest.WideDark, "#race")
	b.WaitText("#race-comparisons summary", "From Smooth to Light wheels")
	b.Media("print", browsertest.Light)
	if b.Visible("#race-aids form") || b.Visible("#brief h2") || !b.Visible("#race-aids .told") {
		t.Error("on paper are controls, or no answers")
	}
	b.Media("screen", browsertest.Light)
	b.Set("#units", "imperial")
	b.WaitText("#race-launches td", "mph")
	b.WaitText("#race-aids td", "miles")
	if shown := strings.Join(b.Texts("#race td"), "\n"); strings.Contains(shown, " km/h") {
		t.Error("speeds in km/h beside miles")
	}
	b.TypeIn("#rider-1-critical_power_w", "240")
	b.WaitText("#race-aids [role=status]", "asked before")
	b.Click("[data-demo=quellmere-criterium]")
	b.WaitGone("#race .told")
}

// The brief tells the questions that were asked, of the riders as they are by now.
func TestBriefAnswersQuestions(t *testing.T) {
	b := openRace(t, "skarnholt-hill-climb")
	b.TypeIn("#conditions-shelter", "80") // has no place in a sprint or a race
	b.Set("#rule-runs", "10")
	for _, path := range []string{"comparisons", "launches", "scenarios"} {
		b.askRace(path)
	}
	b.Click("#brief-length-0")
	b.Click("#brief form button.main")
	b.WaitText("#brief h4", "For the overall")
	b.WaitText("#brief h4", "How the race is likely to go")
	if b.Visible("#brief-aids") {
		t.Error("a question that wasn't asked can be told")
	}
	b.TypeIn("#rider-2-name", "Tove")
	b.WaitText("#brief article", "Tove")
	b.Wait("all to be of the new name", "!document.querySelector('#brief article').innerText.includes('Heavy')")
	b.Click("#brief-scenarios")
	b.Wait("the race to be left out", "![...document.querySelectorAll('#brief h4')].some(h => h.textContent.startsWith('How the race'))")
}

// A race of riders who are all drawn asks nothing of those given.
func TestRaceOfADrawnField(t *testing.T) {
	b := openRace(t, "quellmere-criterium")
	b.Set("#rider-1-mass_kg", "")
	b.Click("#race-scenarios > summary")
	b.unfold("#race-scenarios")
	b.Set("#field-ours", "false")
	b.TypeIn("#drawn-count", "6")
	b.TypeIn("#rule-runs", "20")
	b.askRace("scenarios")
	b.WaitText("#race-scenarios caption", "Of 20 runs")
	if got := b.Count("#race-scenarios .answer > .wide:nth-of-type(1) tbody tr"); got != 6 {
		t.Errorf("odds of %d riders", got)
	}
}

// A long race tells how far it is, and can be stopped.
func TestRaceIsStopped(t *testing.T) {
	b := openRace(t, "quellmere-criterium")
	b.Click("#race-scenarios > summary")
	b.unfold("#race-scenarios")
	b.TypeIn("#rule-runs", "400")
	b.Click("#race-scenarios form button.main")
	b.WaitText("#race-scenarios [role=status]", "of 400 runs are done")
	b.Click("#race-scenarios .stop")
	b.WaitText("#race-scenarios [role=status]", "Stopped.")
	b.WaitGone("#race-scenarios progress")
	if b.Count("#race-scenarios .told") != 0 {
		t.Error("a stopped race has an answer")
	}
}

// What the service finds wrong is told at the field that it names.
func TestFaultsOfQuestions(t *testing.T) {
	b := openRace(t, "hoskerrow-eight")
	b.Click("#race-launches > summary")
	b.unfold("#race-launches")
	b.TypeIn("#launch-approach_speed_mps", "50")
	b.TypeIn("#launch-demand", "70")
	b.Allow(400)
	b.Click("#race-launches form button.main")
	b.WaitVisible("#race-launches .problem")
	b.WaitVisible("#launch-demand-wrong")
	if !eval[bool](b, "document.activeElement.id === 'launch-demand'") {
		t.Error("the reader isn't taken to the field")
	}
	b.Set("#launch-demand", "")
	b.askRace("launches")
	if b.Visible("#launch-demand-wrong") {
		t.Error("a mended fault is still told")
	}
}

// What is copied is the service's own text, in whichever length and form.
func TestBriefIsCopiedAsItIs(t *testing.T) {
	b := newTab(t)
	b.Open("/#demo=morvask-laps-and-climb")
	b.WaitVisible("#brief form")
	b.Set("#brief-times", "false")
	b.Click("#brief form button.main")
	b.WaitVisible("[data-copy='0']:enabled")
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
		b.Click("#brief-form-" + c.form)
		b.Click("[data-copy='" + c.length + "']")
		b.WaitText("#brief [role=status]", fmt.Sprintf("%d characters copied", utf8.RuneCountInString(want)))
		if got := b.Clipboard(); got != want || !strings.Contains(got, "Morvask") {
			t.Errorf("%s of %s characters: copied\n%s\nnot\n%s", c.form, c.length, got, want)
		}
	}
}

// A browser that keeps its clipboard to itself has the text selected for copying by hand.
func TestBriefIsCopiedByHand(t *testing.T) {
	b := openRace(t, "skarnholt-hill-climb")
	b.Click("#brief form button.main")
	b.WaitVisible("[data-copy='280']:enabled")
	eval[bool](b, `(navigator.clipboard.writeText = () => Promise.reject(new Error("refused"))) && true`)
	b.Click("[data-copy='280']")
	b.WaitVisible("#brief textarea")
	if got := eval[string](b, "getSelection().toString()"); got == "" || got != b.Value("#brief textarea") {
		t.Errorf("selected %q", got)
	}
}

// A brief that was written follows the units and what else it tells.
func TestBriefIsKeptUpToDate(t *testing.T) {
	b := openRace(t, "skarnholt-hill-climb")
	b.Click("#brief form button.main")
	b.WaitText("#brief article", "Light")
	b.Set("#units", "imperial")
	b.WaitText("#brief article", "miles")
	b.Set("#brief-itinerary", "true")
	b.WaitText("#brief caption", "Itinerary")
	b.unfold("#brief")
	b.TypeIn("#itinerary-speed-1", "15")
	b.WaitText("#brief thead", "15.0 mph")
	if listed := strings.Join(b.Texts("#brief li"), "\n"); strings.Contains(listed, "foot of") {
		t.Errorf("the itinerary is a list besides:\n%s", listed)
	}
	b.CheckView("brief", browsertest.NarrowLight, "#brief")
	b.CheckView("brief", browsertest.WideDark, "#brief")
	b.Click("[data-demo=quellmere-criterium]")
	b.WaitText("#brief h3", "Quellmere")
}
