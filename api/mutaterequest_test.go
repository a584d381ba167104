package api_test

import (
	"bytes"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
)

// mutant is a damaged request.
type mutant struct {
	// call is the operation that the seed asks for; seed and damage name what it is made of
	// and what was done to it.
	call, seed, damage  string
	method, path, query string
	header              http.Header
	body                []byte
	// parameters are the call's, by name.
	parameters []string
}

// request makes the request as a server would have read it.
func (m mutant) request() *http.Request {
	r := httptest.NewRequest(http.MethodPost, "/", bytes.NewReader(m.body))
	r.Method, r.URL = m.method, &url.URL{Path: m.path, RawQuery: m.query}
	r.RequestURI, r.Header = r.URL.RequestURI(), m.header
	return r
}

// requestMutation damages a request beside its body.
type requestMutation struct {
	name string
	do   func(r *rand.Rand, m *mutant)
}

// setsHeader makes a mutation of one that gives a header field one of some values.
func setsHeader(name string, fields ...string) func(*rand.Rand, *mutant) {
	return func(r *rand.Rand, m *mutant) { m.header.Set(name, pick(r, fields)) }
}

// requestMutations damage requests.
var requestMutations = []requestMutation{
	{"another media type", setsHeader("Content-Type",
		"", "application/json", "application/gpx+xml", "text/csv", "application/fit", "application/zip", "text/plain; charset=utf-16", "application/JSON ; Charset=UTF-8",
		"application/json; charset=\"", "application/json;;;", ";", "*/*", "image/png", "multipart/form-data; boundary=x", "application/problem+json", "\x00", "a/b/c", strings.Repeat("a", 9000),
	)},
	{"another Accept", setsHeader("Accept",
		"", "*/*", "application/*", "text/html", "image/png", "image/svg+xml", "application/x-ndjson", "text/plain;q=0.1, text/markdown;q=NaN", "*/*;q=0", "application/json;q=0",
		"application/json;q=1e400", "application/json;q=-1, */*;q=0.001", ",,;;q=", "q=1", "text/csv;header=present;q=.5", strings.Repeat("text/plain;q=0.1,", 2000), "\xff", "APPLICATION/JSON",
	)},
	{"another Accept-Encoding", setsHeader("Accept-Encoding", "", "gzip", "zstd", "*", "*;q=0", "identity;q=0", "br, gzip;q=0.5, zstd;q=0.5", "gzip;q=NaN", "GZIP", ",", "gzip;;;q=1;q=0", strings.Repeat("gzip,", 3000))},
	{"a body with a coding", func(r *rand.Rand, m *mutant) {
		switch r.IntN(4) {
		case 0:
			m.body = zstded(m.body)
			m.header.Set("Content-Encoding", "zstd")
		case 1:
			m.body = gzipped(zstded(m.body))
			m.header.Set("Content-Encoding", "zstd, gzip")
		default:
			m.body = gzipped(m.body)
			m.header.Set("Content-Encoding", pick(r, []string{"gzip", "x-gzip", "GZIP"}))
		}
		if len(m.body) > 0 && r.IntN(4) == 0 {
			m.body[r.IntN(len(m.body))] ^= 1 << r.IntN(8)
		}
	}},
	{"a lie about the coding", setsHeader("Content-Encoding", "gzip", "zstd", "br", "identity", "gzip, gzip", ",", "gzip;q=1", "gzip, identity, zstd", "\x00", "compress", strings.Repeat("gzip,", 500))},
	{"a condition", setsHeader("If-None-Match", "*", `W/"*"`, `"x"`, `"`, `W/`, ",", `"a", "b", *`, strings.Repeat(`"0123456789abcdef",`, 500), "\x00")},
	{"another id", setsHeader("Request-Id", "", "a", "../..", strings.Repeat("a", 65), "a b", "\u202e", "\r\nX: y", "{{.}}", "0")},
	{"other fields", func(r *rand.Rand, m *mutant) {
		name := pick(r, []string{"Range", "Expect", "Prefer", "If-Match", "If-Modified-Since", "Origin", "Host", "Forwarded", "X-Forwarded-For", "Authorization", "Cookie", "Transfer-Encoding", "Content-Length", "Accept-Charset", "X-HTTP-Method-Override", "Content-Range"})
		m.header.Set(name, pick(r, []string{"bytes=0-1", "100-continue", "respond-async", `"x"`, "*", "DELETE", "a", "-1", "99999999999999999999", "null", "Basic !!", "Bearer x", "for=[::1]"}))
	}},
	{"another method", func(r *rand.Rand, m *mutant) {
		m.method = pick(r, []string{"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CONNECT", "BREW", "get"})
	}},
	{"another path", func(r *rand.Rand, m *mutant) {
		i := r.IntN(len(m.path))
		odd := []string{"/", "//", "/..", "%2f", "%00", "\x00", "a", "A", ":", "{course_id}", "*", "é", "\xff", " ", ";x=y", ".", strings.Repeat("a", 5000)}
		m.path = "/" + strings.TrimPrefix(m.path[:i]+pick(r, odd)+m.path[i+r.IntN(2):], "/")
	}},
	{"an odd query", func(r *rand.Rand, m *mutant) {
		m.query = pick(r, []string{
			"=", "&", "a", "%", "%zz=1", "a;b", "a=%00", "laps=2;laps=3", "laps[]=2", "laps[0]=2", "\xff=\xff", "include", "include=", "include=,", "include=trace,,trace", strings.Repeat("a=b&", 2000),
			"name=" + strings.Repeat("%E2%80%AE", 300), "%6caps=2", "laps=2#x", "?", "mark=" + strings.Repeat("a=b,", 2000),
		})
	}},
	{"another parameter", func(r *rand.Rand, m *mutant) {
		if len(m.parameters) == 0 {
			return
		}
		value := pick(r, []string{
			"", "0", "-1", "1", "2", "1e9", "1e400", "NaN", "true", "TRUE", "null", "none", "light", "metric", "imperial", "profile", "trace", "climb-1", "mark-1", "part-2", "500", "13:00", "25:61",
			"name=x,at_m=5", "mass=70,power=200", "mass=1e9", "%F0%9F%9A%B4", "%E2%80%AE", "%00", "a%0Ab", "[1]", "{}", "1,2", "+5", "0x10", strings.Repeat("9", 400),
		})
		m.query = strings.TrimPrefix(m.query+"&"+pick(r, m.parameters)+"="+value, "&")
		if r.IntN(6) == 0 {
			m.query += "&" + m.query
		}
	}},
}

// damaged returns a mutant of a seed: mostly one thing is wrong with it, sometimes several.
func damaged(r *rand.Rand, seed mutant) mutant {
	m := seed
	m.header, m.body = seed.header.Clone(), slices.Clone(seed.body)
	for again := true; again; again = r.IntN(4) == 0 {
		if len(m.body) > 0 && r.IntN(4) > 0 {
			all := mutationsOf(m.body)
			c := all[r.IntN(len(all))]
			m.body = c.do(r, m.body)
			m.damage += ", " + c.name
			continue
		}
		c := requestMutations[r.IntN(len(requestMutations))]
		c.do(r, &m)
		m.damage += ", " + c.name
	}
	return m
}
