// Package client calls a Parcours service. Every call takes a context first, is typed by the
// contract, and is safe to repeat, as no call changes anything: what failed for want of a
// connection or a free worker is sent again, a little later and not often, and a course that
// has left the service's memory is sent again by itself.
//
// It depends on the standard library alone.
package client

import (
	"cmp"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"runtime/debug"
	"strings"
	"time"
)

// Client calls one service. It is safe for concurrent use.
type Client struct {
	base     *url.URL
	http     *http.Client
	key      string
	agent    string
	logger   *slog.Logger
	store    *Store
	attempts int
	budget   *budget
	courses  *origins
}

// Option changes how a client works.
type Option func(*Client) error

// New returns a client of the service at an address like "https://courses.example". It fails
// where the address or an option is wrong, with all faults joined.
func New(baseURL string, options ...Option) (*Client, error) {
	base, err := url.Parse(strings.TrimSuffix(baseURL, "/"))
	if err == nil && (base.Scheme != "http" && base.Scheme != "https" || base.Host == "" || base.RawQuery != "" || base.Fragment != "" || base.User != nil) {
		err = errors.New("write it like https://courses.example")
	}
	if err != nil {
		return nil, fmt.Errorf("client: the service's address: %w", err)
	}
	c := &Client{
		base: base, http: &http.Client{Timeout: 0}, agent: agent(), attempts: mostAttempts, logger: slog.New(slog.DiscardHandler),
		budget: newBudget(), courses: newOrigins(),
	}
	var faults []error
	for _, option := range options {
		faults = append(faults, option(c))
	}
	own := *c.http // the caller's isn't changed
	own.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	c.http = &own
	return c, errors.Join(faults...)
}

// WithHTTPClient sends requests through a client's transport, jar and timeout. It isn't
// changed, and redirects aren't followed: the service has none, and a key must not travel.
func WithHTTPClient(h *http.Client) Option {
	return func(c *Client) error {
		if h == nil {
			return errors.New("client: the HTTP client is nil")
		}
		c.http = h
		return nil
	}
}

// WithKey sends a key with each request.
func WithKey(key string) Option {
	return func(c *Client) error {
		if key == "" || strings.ContainsFunc(key, func(r rune) bool { return r <= ' ' || r > '~' }) {
			return errors.New("client: the key is empty or holds what no key does")
		}
		c.key = key
		return nil
	}
}

// WithUserAgent names the program that calls, before this package's own name.
func WithUserAgent(name string) Option {
	return func(c *Client) error {
		if strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r > '~' }) {
			return errors.New("client: the user agent holds what no header field may")
		}
		c.agent = strings.TrimSpace(name + " " + agent())
		return nil
	}
}

// WithoutRetries sends each request once.
func WithoutRetries() Option {
	return func(c *Client) error {
		c.attempts = 1
		return nil
	}
}

// WithStore answers from a store what the service says is unchanged.
func WithStore(s *Store) Option {
	return func(c *Client) error {
		if s == nil {
			return errors.New("client: the store is nil")
		}
		c.store = s
		return nil
	}
}

// WithLogger logs requests that are sent again, at level debug; never a body or a key.
func WithLogger(l *slog.Logger) Option {
	return func(c *Client) error {
		if l == nil {
			return errors.New("client: the logger is nil")
		}
		c.logger = l
		return nil
	}
}

// agent is this package's name and its module's version.
func agent() string {
	version := ""
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, m := range append(info.Deps, &info.Main) {
			if m.Path == "parcours.example" {
				version = m.Version
			}
		}
	}
	return "parcours-client/" + cmp.Or(strings.Trim(version, "()"), "devel")
}

// Bounds of how often and how late a request is sent again.
const (
	mostAttempts = 3
	// firstWait is the longest wait before the second attempt, twice that before the third.
	firstWait = 200 * time.Millisecond
	mostWait  = 20 * time.Second
)
