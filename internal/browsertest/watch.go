package browsertest

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/audits"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
)

// watch notes what a page asks for and what it does wrong.
type watch struct {
	origin string

	changed  chan struct{} // has room for one: something was seen
	mu       sync.Mutex
	found    []string
	allowed  []int64
	requests []*Request
}

// Request is something that a page asked for.
type Request struct {
	Method, URL string
	// Body is what was sent, where it isn't a file.
	Body   string
	Status int64
	// Received counts bytes on the wire, the header's among them; Decoded those of the body,
	// decompressed.
	Received, Decoded int64

	id   network.RequestID
	over bool
}

func newWatch(origin string) *watch { return &watch{origin: origin, changed: make(chan struct{}, 1)} }

// Allow lets the service answer with these statuses from now on.
func (b *Tab) Allow(statuses ...int64) {
	b.watch.mu.Lock()
	defer b.watch.mu.Unlock()
	b.watch.allowed = append(b.watch.allowed, statuses...)
}

// Requests returns what the page has asked for so far, in order.
func (b *Tab) Requests() []Request {
	b.watch.mu.Lock()
	defer b.watch.mu.Unlock()
	out := make([]Request, len(b.watch.requests))
	for i, r := range b.watch.requests {
		out[i] = *r
	}
	return out
}

// WaitQuiet waits until nothing that the page asked for is under way.
func (b *Tab) WaitQuiet() {
	b.T.Helper()
	b.watch.until(b.T, "an end of all requests", func() bool {
		return !slices.ContainsFunc(b.Requests(), func(r Request) bool { return !r.over })
	})
}

// Settle waits until the page has drawn what was changed last, and whatever it asked for
// because of that.
func (b *Tab) Settle() {
	b.T.Helper()
	for range 2 { // what is asked for comes with the first frame, what is drawn of it with the second
		Eval[bool](b, "new Promise(done => requestAnimationFrame(() => setTimeout(done, 0, true)))")
		b.WaitQuiet()
	}
}

// until waits until a condition on what was seen holds.
func (w *watch) until(t testing.TB, what string, holds func() bool) {
	t.Helper()
	late := time.After(Patience)
	for !holds() {
		select {
		case <-w.changed:
		case <-late:
			t.Fatalf("waited in vain for %s; requests %+v, faults %q", what, w.requests, w.faults())
		}
	}
}

// faults returns all that went wrong, in order.
func (w *watch) faults() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return slices.Clone(w.found)
}

// Forgive forgets all that went wrong.
func (b *Tab) Forgive() {
	b.watch.mu.Lock()
	defer b.watch.mu.Unlock()
	b.watch.found = nil
}

// see takes an event of the browser.
func (w *watch) see(event any) {
	w.note(event)
	select {
	case w.changed <- struct{}{}:
	default:
	}
}

func (w *watch) note(event any) {
	w.mu.Lock()
	defer w.mu.Unlock()
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		w.fault("uncaught: %s %s", e.ExceptionDetails.Text, valueOf(e.ExceptionDetails.Exception))
	case *runtime.EventConsoleAPICalled:
		w.console(e)
	case *log.EventEntryAdded:
		w.entry(e.Entry)
	case *audits.EventIssueAdded:
		w.issue(e.Issue)
	default:
		w.traffic(event)
	}
}

func (w *watch) fault(format string, args ...any) {
	w.found = append(w.found, fmt.Sprintf(format, args...))
}

func (w *watch) console(e *runtime.EventConsoleAPICalled) {
	switch e.Type {
	case runtime.ConsoleAPICalledTypeError, runtime.ConsoleAPICalledTypeWarning, runtime.ConsoleAPICalledTypeAssert:
		var texts []string
		for _, arg := range e.Args {
			texts = append(texts, valueOf(arg))
		}
		w.fault("console.%s: %s", e.Type, strings.Join(texts, " "))
	}
}

// entry notes the browser's own complaints, except those of the network, which traffic
// sees for itself.
func (w *watch) entry(e *log.Entry) {
	bad := e.Level == log.EntryLevelError || e.Level == log.EntryLevelWarning
	if bad && e.Source != log.EntrySourceNetwork {
		w.fault("%s from %s: %s %s", e.Level, e.Source, e.Text, e.URL)
	}
}

func (w *watch) issue(i *audits.InspectorIssue) {
	if d := i.Details; d.ContentSecurityPolicyIssueDetails != nil {
		c := d.ContentSecurityPolicyIssueDetails
		w.fault("against the content security policy: %s %s", c.ViolatedDirective, c.BlockedURL)
	}
}

// traffic notes requests, their answers and their sizes.
func (w *watch) traffic(event any) {
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		w.requests = append(w.requests, &Request{Method: e.Request.Method, URL: e.Request.URL, Body: bodyOf(e.Request), id: e.RequestID})
		if !w.ours(e.Request.URL) {
			w.fault("asks elsewhere: %s", e.Request.URL)
		}
	case *network.EventWebSocketCreated:
		w.fault("opens a socket: %s", e.URL)
	case *network.EventResponseReceived:
		r := w.request(e.RequestID)
		r.Status = e.Response.Status
		if r.Status >= 400 && !slices.Contains(w.allowed, r.Status) {
			w.fault("%s %s is answered with %d", r.Method, r.URL, r.Status)
		}
	case *network.EventDataReceived:
		w.request(e.RequestID).Decoded += e.DataLength
	case *network.EventLoadingFinished:
		r := w.request(e.RequestID)
		r.Received, r.over = int64(e.EncodedDataLength), true
	case *network.EventLoadingFailed:
		r := w.request(e.RequestID)
		r.over = true
		if !e.Canceled {
			w.fault("%s %s fails: %s %s", r.Method, r.URL, e.ErrorText, e.BlockedReason)
		}
	}
}

// bodyOf returns what a request sends.
func bodyOf(r *network.Request) string {
	var body strings.Builder
	for _, part := range r.PostDataEntries {
		body.Write(part.Bytes)
	}
	return body.String()
}

// ours reports whether an address is the service's, or holds its content itself.
func (w *watch) ours(url string) bool {
	return strings.HasPrefix(url, w.origin+"/") || strings.HasPrefix(url, "data:") || strings.HasPrefix(url, "blob:"+w.origin+"/")
}

// request returns the last request with an id: one that was redirected has several.
func (w *watch) request(id network.RequestID) *Request {
	for _, r := range slices.Backward(w.requests) {
		if r.id == id {
			return r
		}
	}
	return new(Request)
}

// valueOf says what a value of the page is.
func valueOf(o *runtime.RemoteObject) string {
	switch {
	case o == nil:
		return ""
	case o.Description != "":
		return o.Description
	}
	return string(o.Value)
}
