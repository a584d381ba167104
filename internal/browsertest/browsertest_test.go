package browsertest

import (
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"
)

func TestMain(m *testing.M) { os.Exit(Main(m)) }

// strict serves one page, which may load nothing at all.
func strict() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Security-Policy", "default-src 'none'; img-src data:")
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = w.Write([]byte("<!doctype html><html lang=en><title>Strict</title><link rel=icon href=data:,><main><h1>Strict</h1></main>"))
	})
	return mux
}

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
			b := New(t, strict())
			b.Open("/")
			Eval[any](b, `(() => { `+c.script+`; })() ?? true`)
			b.waitFault(c.fault)
		})
	}
}

func TestTabActsAsAPerson(t *testing.T) {
	b := New(t, http.FileServer(http.Dir("testdata")))
	b.Open("/controls.html")
	b.WaitVisible("#late")

	b.Drop("#place", "täg & <b>.txt", []byte("a file"))
	b.WaitText("#out", "dropped täg & <b>.txt: a file")
	b.Choose("#file", "b.txt", []byte("another"))
	b.WaitText("#out", "chosen b.txt: another")
	b.TypeIn("#name", "neu")
	b.Press(kb.Enter)
	b.WaitText("#out", "name neu")
	b.Press(kb.Tab)
	if got := Eval[string](b, "document.activeElement.id"); got != "unit" {
		t.Errorf("after Tab the focus is on %q", got)
	}
	b.Set("#unit", "ft")
	b.WaitText("#out", "unit ft")
	b.Click("#copy")
	b.WaitText("#out", "copied")
	if got := b.Clipboard(); got != "3.2 km\nü 🚲" {
		t.Errorf("the clipboard holds %q", got)
	}
	name, content := b.Download(func() { b.Click("#save") })
	if name != "a & b.txt" || string(content) != "bytes\x00\n" {
		t.Errorf("downloaded %q: %q", name, content)
	}
	if got := b.Requests(); len(got) == 0 || got[0].URL != b.Origin+"/controls.html" || got[0].Decoded < 1000 || got[0].Received < got[0].Decoded {
		t.Errorf("requests %+v", got)
	}
}

// waitFault waits for a fault that holds a text, and forgives all.
func (b *Tab) waitFault(text string) {
	b.T.Helper()
	defer b.Forgive()
	b.watch.until(b.T, "a fault with "+text, func() bool {
		return slices.ContainsFunc(b.watch.faults(), func(f string) bool { return strings.Contains(f, text) })
	})
}

func TestAxeFindsFaults(t *testing.T) {
	b := New(t, strict())
	b.Open("/")
	b.loadAxe()
	found := Eval[[]string](b, `(async () => {
		document.querySelector("main").append(document.createElement("button"));
		return (await axe.run(document)).violations.map(v => v.id);
	})()`)
	if !slices.Contains(found, "button-name") {
		t.Errorf("a button without a name is none of %v", found)
	}
}
