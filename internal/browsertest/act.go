package browsertest

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// Click presses the mouse over the first element that a selector finds, once it is
// visible.
func (b *Tab) Click(selector string) {
	b.T.Helper()
	b.Do("click "+selector, chromedp.Click(chromedp.CSS(selector)))
}

// TypeIn writes a text into a field, key by key, in place of what it held.
func (b *Tab) TypeIn(selector, text string) {
	b.T.Helper()
	b.Do("type into "+selector, chromedp.Focus(chromedp.CSS(selector)),
		chromedp.Evaluate[chromedp.Void]("document.activeElement.select()"), chromedp.SendKeys(chromedp.CSS(selector), text))
}

// Set gives a choice, a slider or a box its value as if a person had: with the events that
// follow. A box takes "true" or "false".
func (b *Tab) Set(selector, value string) {
	b.T.Helper()
	b.WaitFor(selector)
	Eval[bool](b, fmt.Sprintf(`(() => {
		const field = document.querySelector(%s), value = %s;
		if (field.type === "checkbox" || field.type === "radio") field.checked = value === "true"; else field.value = value;
		field.dispatchEvent(new Event("input", {bubbles: true}));
		field.dispatchEvent(new Event("change", {bubbles: true}));
		return true;
	})()`, Quote(selector), Quote(value)))
}

// Press sends keys to whatever has the focus. Keys without a character stand in package
// kb, such as kb.Tab.
func (b *Tab) Press(keys string, options ...chromedp.KeyOption) {
	b.T.Helper()
	b.Do("press keys", chromedp.KeyEvent(keys, options...))
}

// TabTo presses Tab until a condition on what has the focus holds.
func (b *Tab) TabTo(condition string) {
	b.T.Helper()
	for range 200 {
		b.Press(kb.Tab)
		if Eval[bool](b, condition) {
			return
		}
	}
	b.T.Fatalf("the keyboard doesn't get to where %s", condition)
}

// TabThrough demands that Tab gets to all that can be used, each with a mark around it
// that can be seen, and out of the page again.
func (b *Tab) TabThrough() {
	b.T.Helper()
	want := Eval[int](b, `(globalThis.reached = new Set(), [...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex='0']")]
		.filter(e => e.checkVisibility({visibilityProperty: true}) && !e.disabled && e.tabIndex >= 0 && (e.type !== "radio" || e.checked)).length)`)
	Eval[any](b, "(document.activeElement.blur(), true)")
	for range want + 5 {
		b.Press(kb.Tab)
		bare := Eval[string](b, `(() => {
			const e = document.activeElement, shown = e.closest(".drop") ?? e;
			if (e === document.body) return "";
			reached.add(e);
			return getComputedStyle(shown).outlineStyle === "none" ? e.outerHTML.slice(0, 200) : "";
		})()`)
		if bare != "" {
			b.T.Errorf("nothing shows that the focus is on %s", bare)
		}
	}
	if got := Eval[int](b, "reached.size"); got < want {
		b.T.Errorf("the keyboard gets to %d of %d", got, want)
	}
}

// Choose gives a file to a field for files.
func (b *Tab) Choose(selector, name string, content []byte) {
	b.T.Helper()
	b.Do("choose "+name, chromedp.SetUploadFiles(chromedp.CSS(selector), []string{b.file(name, content)}, chromedp.NodeReady))
}

// Drop drags a file over the middle of an element and lets it go there.
func (b *Tab) Drop(selector, name string, content []byte) {
	b.T.Helper()
	b.WaitFor(selector)
	path := b.file(name, content)
	at := Eval[struct{ X, Y float64 }](b, fmt.Sprintf(`(() => {
		const target = document.querySelector(%s);
		target.scrollIntoView({block: "center", behavior: "instant"});
		const box = target.getBoundingClientRect();
		return {X: box.x + box.width / 2, Y: box.y + Math.min(box.height, innerHeight) / 2};
	})()`, Quote(selector)))
	for _, step := range []input.DispatchDragEventType{
		input.DispatchDragEventTypeDragEnter, input.DispatchDragEventTypeDragOver, input.DispatchDragEventTypeDrop,
	} {
		b.Do(string(step)+" "+name, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
			_, err := chromedp.Call(ctx, input.DispatchDragEvent, input.DispatchDragEventParams{
				Type: step, X: at.X, Y: at.Y, Data: &input.DragData{Items: []*input.DragDataItem{}, Files: []string{path}, DragOperationsMask: 1},
			})
			return err
		}))
	}
}

// file writes a file that a page can be given.
func (b *Tab) file(name string, content []byte) string {
	b.T.Helper()
	path := filepath.Join(b.T.TempDir(), name)
	if err := os.WriteFile(path, content, 0o600); err != nil {
		b.T.Fatal(err)
	}
	return path
}

// Download runs what starts a download and returns the file's name and bytes.
func (b *Tab) Download(start func()) (name string, content []byte) {
	b.T.Helper()
	dir := b.T.TempDir()
	events := make(chan any, 1000)
	err := chromedp.ListenBrowser(b.ctx, func(event any) {
		select {
		case events <- event:
		default: // more events than any download has
		}
	})
	if err != nil {
		b.T.Fatal(err)
	}
	on := true
	b.Do("allow downloads", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.CallBrowser(ctx, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{
			Behavior: browser.SetDownloadBehaviorBehaviorAllowAndName, DownloadPath: dir, EventsEnabled: &on,
			BrowserContextID: chromedp.FromContext(ctx).BrowserContextID,
		})
		return err
	}))
	start()
	return b.downloaded(dir, events)
}

// downloaded waits for a download to end.
func (b *Tab) downloaded(dir string, events <-chan any) (name string, content []byte) {
	b.T.Helper()
	late := time.After(Patience)
	for {
		select {
		case <-late:
			b.T.Fatal("no file was downloaded")
		case event := <-events:
			switch e := event.(type) {
			case *browser.EventDownloadWillBegin:
				name = e.SuggestedFilename
			case *browser.EventDownloadProgress:
				if e.State != browser.DownloadProgressStateCompleted {
					continue
				}
				content, err := os.ReadFile(filepath.Join(dir, e.GUID))
				if err != nil {
					b.T.Fatal(err)
				}
				return name, content
			}
		}
	}
}

// Clipboard returns the text that was copied last.
func (b *Tab) Clipboard() string {
	b.T.Helper()
	return Eval[string](b, "navigator.clipboard.readText()")
}

// Text returns the text of the first element that a selector finds, as it is shown.
func (b *Tab) Text(selector string) string {
	b.T.Helper()
	b.WaitFor(selector)
	return strings.TrimSpace(Eval[string](b, "document.querySelector("+Quote(selector)+").innerText"))
}

// Texts returns the texts of all elements that a selector finds, as they are shown.
func (b *Tab) Texts(selector string) []string {
	b.T.Helper()
	return Eval[[]string](b, "[...document.querySelectorAll("+Quote(selector)+")].map(e => e.innerText.trim())")
}

// Attribute returns an attribute of the first element that a selector finds, empty where
// it has none.
func (b *Tab) Attribute(selector, name string) string {
	b.T.Helper()
	b.WaitFor(selector)
	return Eval[string](b, "document.querySelector("+Quote(selector)+").getAttribute("+Quote(name)+") ?? ''")
}

// Value returns what a field holds.
func (b *Tab) Value(selector string) string {
	b.T.Helper()
	b.WaitFor(selector)
	return Eval[string](b, "String(document.querySelector("+Quote(selector)+").value)")
}

// Count returns how many elements a selector finds.
func (b *Tab) Count(selector string) int {
	b.T.Helper()
	return Eval[int](b, "document.querySelectorAll("+Quote(selector)+").length")
}

// Visible reports whether the first element that a selector finds can be seen.
func (b *Tab) Visible(selector string) bool {
	b.T.Helper()
	return Eval[bool](b, visibleScript(selector))
}

func visibleScript(selector string) string {
	return "document.querySelector(" + Quote(selector) + ")?.checkVisibility({visibilityProperty: true, opacityProperty: true}) ?? false"
}

// WaitFor waits until a selector finds an element.
func (b *Tab) WaitFor(selector string) {
	b.T.Helper()
	b.Wait(selector+" to be there", "document.querySelector("+Quote(selector)+") !== null")
}

// WaitVisible waits until the first element that a selector finds can be seen.
func (b *Tab) WaitVisible(selector string) {
	b.T.Helper()
	b.Wait(selector+" to be seen", visibleScript(selector))
}

// WaitGone waits until a selector finds nothing that can be seen.
func (b *Tab) WaitGone(selector string) {
	b.T.Helper()
	b.Wait(selector+" to be gone", "!("+visibleScript(selector)+")")
}

// WaitText waits until an element that a selector finds holds a text.
func (b *Tab) WaitText(selector, text string) {
	b.T.Helper()
	b.Wait(fmt.Sprintf("%q in %s", text, selector),
		"[...document.querySelectorAll("+Quote(selector)+")].some(e => e.innerText.includes("+Quote(text)+"))")
}

// Wait waits until a JavaScript expression is true, in frames of the page. The condition
// is named in the failure.
func (b *Tab) Wait(condition, expression string) {
	b.T.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, Patience)
	defer cancel()
	script := `new Promise((done, fail) => {
		const look = () => {
			try {
				if (` + expression + `) done(true); else setTimeout(look, 10);
			} catch (fault) { fail(fault); }
		};
		look();
	})`
	for {
		_, err := chromedp.Run(ctx, chromedp.Evaluate[bool](script, chromedp.EvalAwaitPromise))
		switch {
		case err == nil:
			return
		case ctx.Err() != nil:
			b.T.Fatalf("waited in vain for %s", condition)
		case !leftPage(err):
			b.T.Fatalf("waiting for %s: %v", condition, err)
		}
	}
}

// leftPage reports whether a script ended because the tab went to another page.
func leftPage(err error) bool {
	return strings.Contains(err.Error(), "Inspected target navigated") || strings.Contains(err.Error(), "context was destroyed") ||
		strings.Contains(err.Error(), "Cannot find context") || strings.Contains(err.Error(), "Promise was collected")
}

// Eval returns the value of a JavaScript expression, or of the promise that it is.
func Eval[T any](b *Tab, expression string) T {
	b.T.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, Patience)
	defer cancel()
	value, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		b.T.Fatalf("evaluate %.200s: %v", expression, err)
	}
	return value
}

// Quote writes a text as a JavaScript literal.
func Quote(text string) string {
	literal, _ := json.Marshal(text) // of a string, it never fails
	return string(literal)
}
