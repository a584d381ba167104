package main

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"path"
	"strings"

	"parcours.example/api/page"
)

// ownFiles are the page's own parts.
//
//go:embed page/*.html page/*.css page/*.js
var ownFiles embed.FS

// ownParts are those that the document loads.
var ownParts = []string{"dashboard.css", "dashboard.js", "fragment.js", "tables.js", "views.js"}

// sharedFiles are the parts that the page shares with the service's own.
var sharedFiles = []string{"page.css", "dom.js", "wording.js", "icon.svg"}

// pagePolicy lets the page load its own parts and nothing else.
const pagePolicy = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// web serves a board.
type web struct {
	board    *board
	pictures *pictures
	// anyHost lets a request name any host, as it may where the program listens to a network.
	anyHost bool
}

// handler returns what serves the board. It answers GET and HEAD alone, and changes nothing.
func (w *web) handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", asset(ownFiles, "page/index.html"))
	for _, name := range ownParts {
		mux.HandleFunc("GET /page/"+name, asset(ownFiles, "page/"+name))
	}
	for _, name := range sharedFiles {
		mux.HandleFunc("GET /page/"+name, asset(page.Files, name))
	}
	mux.HandleFunc("GET /answers.json", w.answers)
	mux.HandleFunc("GET /rounds.csv", w.csv(shown.roundsCSV))
	mux.HandleFunc("GET /times.csv", w.csv(shown.timesCSV))
	mux.HandleFunc("GET /pictures/{course}", w.picture)
	return w.guard(mux)
}

// guard sets what every reply has, and turns away what a page elsewhere may have made a browser
// ask: one that names this address by a name of its own.
func (w *web) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(out http.ResponseWriter, r *http.Request) {
		h := out.Header()
		h.Set("Content-Security-Policy", pagePolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cache-Control", "private, no-cache")
		if !w.anyHost && !isLoopback(r.Host) {
			http.Error(out, "This page is for this machine alone; ask it as localhost.", http.StatusMisdirectedRequest)
			return
		}
		next.ServeHTTP(out, r)
	})
}

// isLoopback reports whether an address, with or without a port, is this machine's own.
func isLoopback(address string) bool {
	host := address
	if name, _, err := net.SplitHostPort(address); err == nil {
		host = name
	}
	ip, err := netip.ParseAddr(strings.Trim(host, "[]"))
	return host == "localhost" || err == nil && ip.IsLoopback()
}

// asset serves a part of the page.
func asset(files fs.FS, name string) http.HandlerFunc {
	types := map[string]string{
		".html": "text/html; charset=utf-8", ".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml",
	}
	return func(out http.ResponseWriter, r *http.Request) {
		body, err := fs.ReadFile(files, name)
		if err != nil {
			http.NotFound(out, r)
			return
		}
		digest := sha256.Sum256(body)
		reply(out, r, types[path.Ext(name)], body, hex.EncodeToString(digest[:16]))
	}
}

// answers serves what is shown as JSON.
func (w *web) answers(out http.ResponseWriter, r *http.Request) {
	body, tag, err := w.board.encoded()
	if q, ok := query(out, r); !ok {
		return
	} else if len(q) > 0 {
		some, missing := w.board.snapshot().selected(q)
		if missing != nil {
			http.Error(out, sentence(missing), http.StatusNotFound)
			return
		}
		body, tag, err = encode(some)
	}
	if err != nil {
		http.Error(out, "What is shown can't be written.", http.StatusInternalServerError)
		return
	}
	reply(out, r, "application/json", body, tag)
}

// csv serves a table of what is shown.
func (w *web) csv(write func(shown) []byte) http.HandlerFunc {
	return func(out http.ResponseWriter, r *http.Request) {
		q, ok := query(out, r)
		if !ok {
			return
		}
		some, err := w.board.snapshot().selected(q)
		if err != nil {
			http.Error(out, sentence(err), http.StatusNotFound)
			return
		}
		body := write(some)
		digest := sha256.Sum256(body)
		reply(out, r, "text/csv; charset=utf-8; header=present", body, hex.EncodeToString(digest[:16]))
	}
}

// query returns a request's query, which may name rounds and riders; where it is wrong it says
// so and returns false.
func query(out http.ResponseWriter, r *http.Request) (url.Values, bool) {
	q, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		http.Error(out, "The query can't be read.", http.StatusBadRequest)
		return nil, false
	}
	for name := range q {
		if name != "round" && name != "rider" {
			http.Error(out, "The query can hold round= and rider=, and nothing else.", http.StatusBadRequest)
			return nil, false
		}
	}
	return q, true
}

// reply sends a body, or says that the caller holds it already.
func reply(out http.ResponseWriter, r *http.Request, mediaType string, body []byte, tag string) {
	tag = `"` + tag + `"`
	out.Header().Set("ETag", tag)
	if r.Header.Get("If-None-Match") == tag {
		out.WriteHeader(http.StatusNotModified)
		return
	}
	out.Header().Set("Content-Type", mediaType)
	_, _ = out.Write(body) // who left isn't told
}
