package browser_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"
)

func TestTabNoticesFaults(t *testing.T) {
	for _, c := range []struct{ name, script, fault string }{
		{"an exception", `setTimeout(() => { throw new Error("thrown"); })`, "uncaught: Uncaught Error: thrown"},
		{"a rejection", `setTimeout(() => { Promise.reject(new Error("rejected")); })`, "Error: rejected"},
		{"an error on the console", `console.error("an", "error")`, "console.error: \"an\" \"error\""},
		{"a warning on the console", `console.warn(1)`, "console.warning: 1"},
		{"a style against the policy", `document.body.append(Object.assign(document.createElement("style"), {textContent: "p{color:red}"}))`, "against the content security policy: style-src"},
		{"a request against the policy", `fetch("/livez").catch(() => 0)`, "against the content security policy: connect-src"},
		{"a request elsewhere", `location.href = "http://elsewhere.example/"`, "asks elsewhere: http://elsewhere.example/"},
		{"an unexpected status", `location.href = "/nothing-here"`, "/nothing-here is answered with 404"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newTab(t)
			b.open("/problems/cannot-climb")
			eval[any](b, `(() => { `+c.script+`; })() ?? true`)
			b.watch.waitFault(t, c.fault)
		})
	}
}

func TestTabActsAsAPerson(t *testing.T) {
	b := newTabOver(t, http.FileServer(http.Dir("testdata")))
	b.open("/controls.html")
	b.waitVisible("#late")

	b.drop("#place", "täg & <b>.txt", []byte("a file"))
	b.waitText("#out", "dropped täg & <b>.txt: a file")
	b.choose("#file", "b.txt", []byte("another"))
	b.waitText("#out", "chosen b.txt: another")
	b.typeIn("#name", "neu")
	b.press(kb.Enter)
	b.waitText("#out", "name neu")
	b.press(kb.Tab)
	if got := eval[string](b, "document.activeElement.id"); got != "unit" {
		t.Errorf("after Tab the focus is on %q", got)
	}
	b.set("#unit", "ft")
	b.waitText("#out", "unit ft")
	b.click("#copy")
	b.waitText("#out", "copied")
	if got := b.clipboard(); got != "3.2 km\nü 🚲" {
		t.Errorf("the clipboard holds %q", got)
	}
	name, content := b.download(func() { b.click("#save") })
	if name != "a & b.txt" || string(content) != "bytes\x00\n" {
		t.Errorf("downloaded %q: %q", name, content)
	}
	if got := b.requests(); len(got) == 0 || got[0].url != b.origin+"/controls.html" || got[0].decoded < 1000 || got[0].received < got[0].decoded {
		t.Errorf("requests %+v", got)
	}
}

// waitFault waits for a fault that holds a text, and forgives all.
func (w *watch) waitFault(t *testing.T, text string) {
	t.Helper()
	defer w.forgive()
	w.until(t, "a fault with "+text, func() bool {
		return slices.ContainsFunc(w.faults(), func(f string) bool { return strings.Contains(f, text) })
	})
}

func TestAxeFindsFaults(t *testing.T) {
	b := newTab(t)
	b.open("/problems/cannot-climb")
	b.loadAxe()
	found := eval[[]string](b, `(async () => {
		document.querySelector("main").append(document.createElement("button"));
		return (await axe.run(document)).violations.map(v => v.id);
	})()`)
	if !slices.Contains(found, "button-name") {
		t.Errorf("a button without a name is none of %v", found)
	}
}
