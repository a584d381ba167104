package client

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"mime"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"parcours.example/api/contract"
)

// The media types that are asked for.
const (
	jsonMediaType     = "application/json"
	problemMediaType  = "application/problem+json"
	linesMediaType    = "application/x-ndjson"
	svgMediaType      = "image/svg+xml"
	pngMediaType      = "image/png"
	textMediaType     = "text/plain"
	markdownMediaType = "text/markdown"
	csvMediaType      = "text/csv"
)

// Bounds of what is read of a reply, in bytes as decoded.
const (
	mostReplyBytes   = 512 << 20
	mostProblemBytes = 256 << 10
)

// ErrReply says that what came back isn't what the contract has: a proxy's page, a reply that
// breaks off, a stream without its end.
var ErrReply = errors.New("client: the reply isn't the service's, or isn't whole")

// call is a request before it is sent.
type call struct {
	method, path string
	query        url.Values
	accept       string
	body         *payload
	// store allows the answer to be kept; for GET.
	store bool
	// later prefers to be answered by a job.
	later bool
	// wait is how long the service may keep the answer back.
	wait time.Duration
}

// do sends a call and reads its whole reply.
func (c *Client) do(ctx context.Context, k call) (body []byte, err error) {
	var tag string
	var kept []byte
	if k.store && c.store != nil {
		tag, kept = c.store.load(c.storeKey(k))
	}
	err = c.send(ctx, k, tag, func(reply *http.Response) (err error) {
		defer closeBody(reply)
		if reply.StatusCode == http.StatusNotModified {
			body = kept
			return nil
		}
		if body, err = readAll(reply.Body, mostReplyBytes); err != nil {
			return brokenOff(err)
		}
		if tag := reply.Header.Get("ETag"); k.store && c.store != nil && tag != "" {
			if err := c.store.save(c.storeKey(k), tag, body); err != nil {
				c.logger.DebugContext(ctx, "store", slog.Any("error", err)) // it costs a transfer next time
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return body, nil
}

// errBrokenOff is a reply whose connection ended before it did.
var errBrokenOff = fmt.Errorf("%w: it breaks off", ErrReply)

// brokenOff says of an error while reading that the reply broke off.
func brokenOff(err error) error {
	if errors.Is(err, ErrReply) {
		return err
	}
	return fmt.Errorf("%w: %w", errBrokenOff, err)
}

// storeKey names a call's answer.
func (c *Client) storeKey(k call) string {
	return c.base.String() + k.path + "?" + k.query.Encode() + " " + k.accept + " " + c.key
}

// send sends a call until it is answered with what was asked for and read takes that, or not to
// be sent again. Read closes the reply's body.
func (c *Client) send(ctx context.Context, k call, tag string, read func(*http.Response) error) error {
	meter := meterIn(ctx, k.body)
	for attempt := 1; ; attempt++ {
		reply, err := c.once(ctx, k, tag, meter) //nolint:bodyclose // read does
		if err == nil {
			err = read(reply)
		}
		if err == nil {
			c.budget.earn()
			return nil
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		wait, again := pause(err, attempt)
		if !again || attempt >= c.attempts || !retriesIn(ctx) || !k.body.replayable() || !fits(ctx, wait) || !c.budget.spend() {
			return err
		}
		c.logger.DebugContext(ctx, "sending again", slog.String("path", k.path), slog.Int("attempt", attempt+1), slog.Duration("wait", wait), slog.Any("error", err))
		if err := sleep(ctx, wait); err != nil {
			return err
		}
	}
}

// onceKey is where a context keeps that its calls are sent once.
type onceKey struct{}

// Once returns a context whose calls aren't sent again.
func Once(ctx context.Context) context.Context { return context.WithValue(ctx, onceKey{}, true) }

func retriesIn(ctx context.Context) bool { return ctx.Value(onceKey{}) == nil }

// pause reports whether a failed attempt is worth another, and after how long: connections that
// failed, and what the service, or a proxy, says is for now. Not 500, which is a fault of the
// service that another attempt would meet again.
func pause(err error, attempt int) (wait time.Duration, again bool) {
	var p *Problem
	switch {
	case errors.As(err, &p):
		switch p.Status {
		case http.StatusTooManyRequests, http.StatusBadGateway, http.StatusServiceUnavailable, http.StatusGatewayTimeout:
		default:
			return 0, false
		}
		if p.RetryAfter > 0 {
			return p.RetryAfter, true
		}
	case errors.Is(err, ErrReply) && !errors.Is(err, errBrokenOff):
		return 0, false
	}
	most := min(firstWait<<(attempt-1), mostWait)
	return time.Duration(rand.Int64N(int64(most) + 1)), true
}

// fits reports whether a wait ends before its context does, and isn't absurd.
func fits(ctx context.Context, wait time.Duration) bool {
	deadline, bounded := ctx.Deadline()
	return wait <= mostWait && (!bounded || time.Until(deadline) > wait)
}

// sleep waits, or returns the context's error.
func sleep(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// once sends a call one time. It fails with a *Problem where that is the reply.
func (c *Client) once(ctx context.Context, k call, tag string, meter *meter) (*http.Response, error) {
	r, err := c.request(ctx, k, tag, meter)
	if err != nil {
		return nil, err
	}
	reply, err := c.http.Do(r)
	if err != nil {
		return nil, fmt.Errorf("client: %s %s: %w", k.method, k.path, bare(err))
	}
	if k.answeredBy(reply) || reply.StatusCode == http.StatusNotModified && tag != "" {
		return reply, nil
	}
	defer closeBody(reply)
	return nil, problemOf(reply)
}

// answeredBy reports whether a reply is what was asked for.
func (k call) answeredBy(reply *http.Response) bool {
	switch reply.StatusCode {
	case http.StatusOK:
		return isType(reply, k.accept)
	case http.StatusAccepted:
		return k.later && isType(reply, jsonMediaType)
	case http.StatusNoContent:
		return k.method == http.MethodDelete
	}
	return false
}

// bare takes the address, which may be long, off an error of net/http.
func bare(err error) error {
	var of *url.Error
	if errors.As(err, &of) {
		return of.Err
	}
	return err
}

// request makes the request of a call.
func (c *Client) request(ctx context.Context, k call, tag string, meter *meter) (*http.Request, error) {
	to := *c.base
	to.Path += k.path
	to.RawQuery = k.query.Encode()
	open := func() io.ReadCloser { return meter.over(k.body.open()) }
	var body io.ReadCloser
	if k.body != nil {
		body = open()
	}
	r, err := http.NewRequestWithContext(ctx, k.method, to.String(), body)
	if err != nil {
		return nil, fmt.Errorf("client: %w", err)
	}
	if k.later {
		r.Header.Set("Prefer", "respond-async")
	}
	if k.wait > 0 {
		r.Header.Set("Prefer", "wait="+strconv.Itoa(int(k.wait.Seconds())))
	}
	if k.body != nil {
		r.ContentLength = k.body.length()
		if k.body.replayable() {
			r.GetBody = func() (io.ReadCloser, error) { return open(), nil } // for a connection that closed just then
		}
		if k.body.mediaType != "" {
			r.Header.Set("Content-Type", k.body.mediaType)
		}
		if k.body.coding != "" {
			r.Header.Set("Content-Encoding", k.body.coding)
		}
	}
	r.Header.Set("Accept", k.accept)
	r.Header.Set("User-Agent", c.agent)
	if c.key != "" {
		r.Header.Set("Authorization", "Bearer "+c.key)
	}
	if tag != "" {
		r.Header.Set("If-None-Match", tag)
	}
	return r, nil
}

// isType reports whether a reply is of a media type.
func isType(reply *http.Response, want string) bool {
	got, _, err := mime.ParseMediaType(reply.Header.Get("Content-Type"))
	return err == nil && (got == want || want == anyMediaType)
}

// anyMediaType is what is asked for where the type doesn't matter.
const anyMediaType = "*/*"

// problemOf reads what was answered instead of a result.
func problemOf(reply *http.Response) error {
	p := &Problem{RetryAfter: retryAfter(reply.Header.Get("Retry-After"), time.Now())}
	if isType(reply, problemMediaType) {
		body, err := readAll(reply.Body, mostProblemBytes)
		if err == nil && json.Unmarshal(body, &p.Problem) == nil && p.Status == reply.StatusCode {
			return p
		}
	}
	if reply.StatusCode < 400 {
		return fmt.Errorf("%w: status %d with %q", ErrReply, reply.StatusCode, reply.Header.Get("Content-Type"))
	}
	// What stands in between, like a balancer, answers in its own words, which are left out.
	p.Problem = contract.Problem{Type: "about:blank", Title: http.StatusText(reply.StatusCode), Status: reply.StatusCode}
	return p
}

// retryAfter reads a Retry-After field, in seconds or as a date; 0 for none and what is past.
func retryAfter(field string, now time.Time) time.Duration {
	if s, err := strconv.ParseInt(field, 10, 64); err == nil {
		return time.Duration(min(max(s, 0), int64(365*24*time.Hour/time.Second))) * time.Second
	}
	if at, err := http.ParseTime(field); err == nil {
		return max(0, at.Sub(now))
	}
	return 0
}

// readAll reads a body of a bounded size.
func readAll(body io.Reader, most int64) ([]byte, error) {
	out, err := io.ReadAll(io.LimitReader(body, most+1))
	if err == nil && int64(len(out)) > most {
		err = fmt.Errorf("%w: it is longer than %d bytes", ErrReply, most)
	}
	return out, err
}

// closeBody closes a body, and reads a little rest of it so that the connection can be used
// again.
func closeBody(reply *http.Response) {
	_, _ = io.CopyN(io.Discard, reply.Body, 32<<10)
	_ = reply.Body.Close()
}
