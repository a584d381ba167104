package browser_test

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
)

// click presses the mouse over the first element that a selector finds, once it is
// visible.
func (b *tab) click(selector string) {
	b.t.Helper()
	b.do("click "+selector, chromedp.Click(chromedp.CSS(selector)))
}

// typeIn writes a text into a field, key by key, in place of what it held.
func (b *tab) typeIn(selector, text string) {
	b.t.Helper()
	b.do("type into "+selector, chromedp.Focus(chromedp.CSS(selector)),
		chromedp.Evaluate[chromedp.Void]("document.activeElement.select()"), chromedp.SendKeys(chromedp.CSS(selector), text))
}

// set gives a choice, a slider or a box its value as if a person had: with the events that
// follow. A box takes "true" or "false".
func (b *tab) set(selector, value string) {
	b.t.Helper()
	b.waitFor(selector)
	eval[bool](b, fmt.Sprintf(`(() => {
		const field = document.querySelector(%s), value = %s;
		if (field.type === "checkbox" || field.type === "radio") field.checked = value === "true"; else field.value = value;
		field.dispatchEvent(new Event("input", {bubbles: true}));
		field.dispatchEvent(new Event("change", {bubbles: true}));
		return true;
	})()`, quote(selector), quote(value)))
}

// press sends keys to whatever has the focus. Keys without a character stand in package
// kb, such as kb.Tab.
func (b *tab) press(keys string, options ...chromedp.KeyOption) {
	b.t.Helper()
	b.do("press keys", chromedp.KeyEvent(keys, options...))
}

// choose gives a file to a field for files.
func (b *tab) choose(selector, name string, content []byte) {
	b.t.Helper()
	b.do("choose "+name, chromedp.SetUploadFiles(chromedp.CSS(selector), []string{b.file(name, content)}, chromedp.NodeReady))
}

// drop drags a file over the middle of an element and lets it go there.
func (b *tab) drop(selector, name string, content []byte) {
	b.t.Helper()
	b.waitFor(selector)
	path := b.file(name, content)
	at := eval[struct{ X, Y float64 }](b, fmt.Sprintf(`(() => {
		const target = document.querySelector(%s);
		target.scrollIntoView({block: "center", behavior: "instant"});
		const box = target.getBoundingClientRect();
		return {X: box.x + box.width / 2, Y: box.y + Math.min(box.height, innerHeight) / 2};
	})()`, quote(selector)))
	for _, step := range []input.DispatchDragEventType{
		input.DispatchDragEventTypeDragEnter, input.DispatchDragEventTypeDragOver, input.DispatchDragEventTypeDrop,
	} {
		b.do(string(step)+" "+name, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
			_, err := chromedp.Call(ctx, input.DispatchDragEvent, input.DispatchDragEventParams{
				Type: step, X: at.X, Y: at.Y, Data: &input.DragData{Items: []*input.DragDataItem{}, Files: []string{path}, DragOperationsMask: 1},
			})
			return err
		}))
	}
}

// file writes a file that a page can be given.
func (b *tab) file(name string, content []byte) string {
	b.t.Helper()
	path := filepath.Join(b.t.TempDir(), name)
	if err := os.WriteFile(path, content, 0o600); err != nil {
		b.t.Fatal(err)
	}
	return path
}

// download runs what starts a download and returns the file's name and bytes.
func (b *tab) download(start func()) (name string, content []byte) {
	b.t.Helper()
	dir := b.t.TempDir()
	events := make(chan any, 1000)
	err := chromedp.ListenBrowser(b.ctx, func(event any) {
		select {
		case events <- event:
		default: // more events than any download has
		}
	})
	if err != nil {
		b.t.Fatal(err)
	}
	on := true
	b.do("allow downloads", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
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
func (b *tab) downloaded(dir string, events <-chan any) (name string, content []byte) {
	b.t.Helper()
	late := time.After(patience)
	for {
		select {
		case <-late:
			b.t.Fatal("no file was downloaded")
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
					b.t.Fatal(err)
				}
				return name, content
			}
		}
	}
}

// clipboard returns the text that was copied last.
func (b *tab) clipboard() string {
	b.t.Helper()
	return eval[string](b, "navigator.clipboard.readText()")
}

// text returns the text of the first element that a selector finds, as it is shown.
func (b *tab) text(selector string) string {
	b.t.Helper()
	b.waitFor(selector)
	return strings.TrimSpace(eval[string](b, "document.querySelector("+quote(selector)+").innerText"))
}

// texts returns the texts of all elements that a selector finds, as they are shown.
func (b *tab) texts(selector string) []string {
	b.t.Helper()
	return eval[[]string](b, "[...document.querySelectorAll("+quote(selector)+")].map(e => e.innerText.trim())")
}

// attribute returns an attribute of the first element that a selector finds, empty where
// it has none.
func (b *tab) attribute(selector, name string) string {
	b.t.Helper()
	b.waitFor(selector)
	return eval[string](b, "document.querySelector("+quote(selector)+").getAttribute("+quote(name)+") ?? ''")
}

// value returns what a field holds.
func (b *tab) value(selector string) string {
	b.t.Helper()
	b.waitFor(selector)
	return eval[string](b, "String(document.querySelector("+quote(selector)+").value)")
}

// count returns how many elements a selector finds.
func (b *tab) count(selector string) int {
	b.t.Helper()
	return eval[int](b, "document.querySelectorAll("+quote(selector)+").length")
}

// visible reports whether the first element that a selector finds can be seen.
func (b *tab) visible(selector string) bool {
	b.t.Helper()
	return eval[bool](b, visibleScript(selector))
}

func visibleScript(selector string) string {
	return "document.querySelector(" + quote(selector) + ")?.checkVisibility({visibilityProperty: true, opacityProperty: true}) ?? false"
}

// waitFor waits until a selector finds an element.
func (b *tab) waitFor(selector string) {
	b.t.Helper()
	b.wait(selector+" to be there", "document.querySelector("+quote(selector)+") !== null")
}

// waitVisible waits until the first element that a selector finds can be seen.
func (b *tab) waitVisible(selector string) {
	b.t.Helper()
	b.wait(selector+" to be seen", visibleScript(selector))
}

// waitGone waits until a selector finds nothing that can be seen.
func (b *tab) waitGone(selector string) {
	b.t.Helper()
	b.wait(selector+" to be gone", "!("+visibleScript(selector)+")")
}

// waitText waits until an element that a selector finds holds a text.
func (b *tab) waitText(selector, text string) {
	b.t.Helper()
	b.wait(fmt.Sprintf("%q in %s", text, selector),
		"[...document.querySelectorAll("+quote(selector)+")].some(e => e.innerText.includes("+quote(text)+"))")
}

// wait waits until a JavaScript expression is true, in frames of the page. The condition
// is named in the failure.
func (b *tab) wait(condition, expression string) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
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
			b.t.Fatalf("waited in vain for %s", condition)
		case !leftPage(err):
			b.t.Fatalf("waiting for %s: %v", condition, err)
		}
	}
}

// leftPage reports whether a script ended because the tab went to another page.
func leftPage(err error) bool {
	return strings.Contains(err.Error(), "Inspected target navigated") || strings.Contains(err.Error(), "context was destroyed") ||
		strings.Contains(err.Error(), "Cannot find context") || strings.Contains(err.Error(), "Promise was collected")
}

// eval returns the value of a JavaScript expression, or of the promise that it is.
func eval[T any](b *tab, expression string) T {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	value, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("evaluate %.200s: %v", expression, err)
	}
	return value
}

// quote writes a text as a JavaScript literal.
func quote(text string) string {
	literal, _ := json.Marshal(text) // of a string, it never fails
	return string(literal)
}
