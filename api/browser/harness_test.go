package browser_test

import (
	"slices"
	"strings"
	"testing"
	"time"
)

// What the harness should notice, made to happen.

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

// waitFault waits for a fault that holds a text, and forgives all.
func (w *watch) waitFault(t *testing.T, text string) {
	t.Helper()
	defer w.forgive()
	late := time.After(patience)
	for !slices.ContainsFunc(w.faults(), func(f string) bool { return strings.Contains(f, text) }) {
		select {
		case <-w.changed:
		case <-late:
			t.Fatalf("no fault with %q among %q", text, w.faults())
		}
	}
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
