// Package hook posts to incoming webhooks: addresses that take a message as one HTTP request.
//
// A message is a POST of JSON,
//
//	{"id": "…", "text": "…", "picture_url": "https://…"}
//
// in which picture_url may be absent. With the picture attached it is multipart/form-data of
// the fields id and text and a file "picture". The same id is the same message: a receiver
// that saw it before answers 200 and does no more.
//
// With a secret, Parcours-Time holds the seconds since 1970 and Parcours-Signature the
// HMAC-SHA-256, in hexadecimal, of that number, a line feed and the body as sent. A receiver
// computes it anew and refuses what differs, or is older than it would wait.
//
// Any answer from 200 to 299 is taken as received.
package hook

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"net/http/httptrace"
	"net/textproto"
	"net/url"
	"strconv"
	"sync/atomic"
	"time"
)

// Message is what is posted.
type Message struct {
	// ID is the message's own; the same when it is posted again.
	ID   string
	Text string
	// PictureURL is where the picture can be fetched, if anywhere; Picture is the picture
	// itself, as PNG, to be attached.
	PictureURL string
	Picture    []byte
}

// Hook is one webhook.
type Hook struct {
	url    string
	secret []byte
	client *http.Client
}

// timeout is the longest that a receiver may take.
const timeout = 30 * time.Second

// Errors of Post. Others are of requests that were refused for good.
var (
	// ErrAway is of a message that was not received for certain: it can be posted again.
	ErrAway = errors.New("the webhook doesn't take it now")
	// ErrUncertain is of a message that was sent and may have been received.
	ErrUncertain = errors.New("the webhook got the message and didn't answer")
)

// New returns the webhook at an address. It must be https, or of the machine itself. Without
// a secret nothing is signed. The transport may be nil for the standard one.
func New(address string, secret []byte, transport http.RoundTripper) (*Hook, error) {
	if err := check(address); err != nil {
		return nil, err
	}
	return &Hook{url: address, secret: secret, client: &http.Client{
		Transport: transport, Timeout: timeout,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}, nil
}

// check says what is wrong with an address without repeating it: it may hold a secret.
func check(address string) error {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http" {
		return errors.New("the webhook's address isn't one like https://league.example/incoming")
	}
	if ip := net.ParseIP(u.Hostname()); u.Scheme == "http" && u.Hostname() != "localhost" && !ip.IsLoopback() {
		return errors.New("the webhook's address must be https")
	}
	return nil
}

// Post posts a message once.
func (h *Hook) Post(ctx context.Context, m Message) error {
	contentType, body, err := encode(m)
	if err != nil {
		return err
	}
	var sent atomic.Bool
	ctx = httptrace.WithClientTrace(ctx, &httptrace.ClientTrace{WroteHeaders: func() { sent.Store(true) }})
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, h.url, io.NopCloser(bytes.NewReader(body))) // sent once, never by the transport again
	if err != nil {
		return errors.New("the webhook's address isn't one")
	}
	request.ContentLength = int64(len(body))
	request.Header.Set("Content-Type", contentType)
	h.sign(request, body)
	answer, err := h.client.Do(request)
	switch {
	case err != nil && sent.Load():
		return fmt.Errorf("%w: %w", ErrUncertain, withoutAddress(err))
	case err != nil:
		return fmt.Errorf("%w: %w", ErrAway, withoutAddress(err))
	}
	defer answer.Body.Close() //nolint:errcheck // only its status counts
	switch {
	case 200 <= answer.StatusCode && answer.StatusCode <= 299:
		return nil
	case answer.StatusCode == http.StatusTooManyRequests || answer.StatusCode >= 500:
		return fmt.Errorf("%w: it answers %d", ErrAway, answer.StatusCode)
	}
	return fmt.Errorf("the webhook refuses the message: it answers %d", answer.StatusCode)
}

// withoutAddress takes the address out of an error of net/http.
func withoutAddress(err error) error {
	if u, ok := errors.AsType[*url.Error](err); ok {
		return u.Err
	}
	return err
}

func (h *Hook) sign(request *http.Request, body []byte) {
	if len(h.secret) == 0 {
		return
	}
	now := strconv.FormatInt(time.Now().Unix(), 10)
	request.Header.Set("Parcours-Time", now)
	request.Header.Set("Parcours-Signature", Signature(h.secret, now, body))
}

// Signature returns what Parcours-Signature holds for a body sent at a time, in seconds since
// 1970.
func Signature(secret []byte, seconds string, body []byte) string {
	mac := hmac.New(sha256.New, secret)
	mac.Write([]byte(seconds + "\n"))
	mac.Write(body)
	return hex.EncodeToString(mac.Sum(nil))
}

// encode writes a message as a body.
func encode(m Message) (contentType string, body []byte, err error) {
	if m.Picture != nil {
		return encodeParts(m)
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err = e.Encode(struct {
		ID         string `json:"id"`
		Text       string `json:"text"`
		PictureURL string `json:"picture_url,omitempty"`
	}{m.ID, m.Text, m.PictureURL})
	return "application/json", b.Bytes(), err
}

func encodeParts(m Message) (contentType string, body []byte, err error) {
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	if err := errors.Join(w.WriteField("id", m.ID), w.WriteField("text", m.Text)); err != nil {
		return "", nil, err
	}
	part, err := w.CreatePart(textproto.MIMEHeader{
		"Content-Disposition": {`form-data; name="picture"; filename="course.png"`}, "Content-Type": {"image/png"},
	})
	if err != nil {
		return "", nil, err
	}
	_, err = part.Write(m.Picture)
	err = errors.Join(err, w.Close())
	return w.FormDataContentType(), b.Bytes(), err
}
