package browser_test

import (
	"strings"
	"testing"
	"unicode/utf8"
)

// A race of riders who are all drawn needs nobody given.
func TestRaceOfADrawnField(t *testing.T) {
	b := newTab(t)
	b.open("/#demo=quellmere-criterium")
	b.waitVisible("#race")
	b.click("#race-scenarios > summary")
	b.typeIn("#drawn-count", "6")
	b.set("#field-ours", "false")
	b.click("#race-scenarios form button.main")
	b.waitText("#race-scenarios .told", "100 runs")
	if got := b.count("#race-scenarios .answer > .wide:first-of-type tbody tr"); got != 6 {
		t.Errorf("odds of %d riders", got)
	}
	if !b.visible("#race-scenarios ul.caution") {
		t.Error("the cautions aren't seen")
	}
}

// What is copied is the service's own text, in whichever length and form.
func TestBriefIsCopiedAsItIs(t *testing.T) {
	b := newTab(t)
	b.open("/#demo=morvask-laps-and-climb")
	b.waitVisible("#brief")
	b.click("#brief form button.main")
	b.waitText("#brief [role=status]", "Written")
	id := eval[string](b, `fetch("/demos/morvask-laps-and-climb").then(r => r.blob())
		.then(file => fetch("/v1/courses", {method: "POST", body: file, headers: {"Content-Type": "application/octet-stream"}})).then(r => r.json()).then(c => c.course_id)`)
	for _, c := range []struct{ form, accept, length string }{
		{"text", "text/plain", "280"}, {"text", "text/plain", "0"}, {"markdown", "text/markdown", "2000"}, {"markdown", "text/markdown", "4096"},
	} {
		b.click("#brief-form-" + c.form)
		b.click("[data-copy='" + c.length + "']")
		b.waitText("#brief [role=status]", "copied")
		limit := ""
		if c.length != "0" {
			limit = `, "max_chars": ` + c.length
		}
		want := eval[string](b, `fetch("/v1/briefs", {method: "POST", headers: {"Accept": `+quote(c.accept)+`, "Content-Type": "application/json"},
			body: `+quote(`{"course": {"course_id": "`+id+`"}, "units": "metric"`+limit+`}`)+`}).then(r => r.text())`)
		got := b.clipboard()
		if got != want {
			t.Errorf("%s of %s characters: copied\n%s\nnot\n%s", c.form, c.length, got, want)
		}
		if c.length == "280" && utf8.RuneCountInString(got) > 280 || !strings.Contains(got, "Morvask") {
			t.Errorf("%q", got)
		}
	}
}
