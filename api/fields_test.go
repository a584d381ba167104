package api

import (
	"bytes"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/gin-gonic/gin"

	"parcours.example/api/contract"
	"parcours.example/service/engine"
)

// FuzzFields reads header fields that callers send: Accept, Accept-Encoding, If-None-Match.
func FuzzFields(f *testing.F) {
	for _, field := range []string{"", "*/*", "text/*;q=0.5, application/json", "gzip;q=0, *", "zstd;q=1e400,gzip", `W/"a", "b"`, "*", ",,;=;q=", "TEXT/CSV ; header=present ; Q=.2"} {
		f.Add(field)
	}
	offered := []string{"application/json", "text/markdown", "text/csv"}
	f.Fuzz(func(t *testing.T, field string) {
		for name, weight := range weightedList(field) {
			if !(weight >= 0 && weight <= 1) || name == "" || name != strings.ToLower(name) {
				t.Errorf("%q weighs %v", name, weight)
			}
		}
		if got := accepted(field, offered...); got != "" && !slices.Contains(offered, got) {
			t.Errorf("accepts %q, which isn't offered", got)
		}
		if got := accepted(field+", text/csv", "text/csv"); got != "text/csv" {
			t.Errorf("what is named last isn't accepted: %q", got)
		}
		if got := negotiateCoding(field); got != "" && got != "gzip" && got != "zstd" {
			t.Errorf("coding %q", got)
		}
		if got := negotiateCoding(field + ", gzip;q=0, zstd;q=0"); got != "" {
			t.Errorf("coding %q, which is refused", got)
		}
		if !tagMatches(field+`, "held"`, `"held"`) {
			t.Error("a tag at the end of the list isn't found")
		}
		if tagMatches(field, `"no one has this"`) && !strings.Contains(field, "*") && !strings.Contains(field, "no one has this") {
			t.Error("a tag is found that isn't in the list")
		}
	})
}

// FuzzGuardJSON looks at any bytes as JSON: what passes is one value, not too deep, without a
// name twice, as a reader says who goes about it in another way.
func FuzzGuardJSON(f *testing.F) {
	for _, body := range []string{`{"a": 1, "b": [1, {"c": null}]}`, `{"a": 1, "\u0061": 2}`, `[[[]]] x`, `{"": "\ud800"}`, strings.Repeat("[", 40), `[` + strings.Repeat("0,", 400) + `1]`, "\ufeff{}", "null"} {
		f.Add([]byte(body))
	}
	f.Fuzz(func(t *testing.T, body []byte) {
		seen, p := guardJSON(body)
		fine := utf8.Valid(body) && json.Valid(body) && soundNames(body)
		if p == nil && !fine {
			t.Fatalf("%q passes", body)
		}
		if p != nil {
			if fine && !slices.Contains([]string{"name-too-long", "too-many-names"}, p.faults[0].Code) {
				t.Errorf("%q: %v", body, p)
			}
			if p.detail == "" || len(p.faults) == 0 {
				t.Errorf("a problem without its place: %+v", p)
			}
			return
		}
		if left := shortened(body, seen.long); !json.Valid(left) {
			t.Errorf("shortened, it is no JSON: %q", left)
		}
	})
}

// soundNames reports whether JSON has no name twice in an object and doesn't nest too deep.
func soundNames(body []byte) bool {
	dec := json.NewDecoder(bytes.NewReader(body))
	dec.UseNumber() // however large
	return soundValue(dec, 0)
}

// soundValue reads a value at a depth.
func soundValue(dec *json.Decoder, depth int) bool {
	token, err := dec.Token()
	open, nests := token.(json.Delim)
	if err != nil || !nests {
		return err == nil
	}
	if depth == engine.MostJSONDepth {
		return false
	}
	names := map[any]bool{}
	for dec.More() {
		if open == '{' {
			name, err := dec.Token()
			if err != nil || names[name] {
				return false
			}
			names[name] = true
		}
		if !soundValue(dec, depth+1) {
			return false
		}
	}
	_, err = dec.Token()
	return err == nil
}

// FuzzProblems writes problems of any words, alone and as a line of a stream: what is read back
// is what was written, and each is one line.
func FuzzProblems(f *testing.F) {
	f.Add("what is wrong", "code", "#/a/0", "the detail", 3, 1.5)
	f.Add("\xff\u2028", "", "\x00", "</script>\n", -1, 1e308)
	gin.SetMode(gin.ReleaseMode) // as the handler does
	f.Fuzz(func(t *testing.T, detail, code, pointer, said string, faults int, limit float64) {
		p := &problem{kind: kindInvalidRequest, detail: clip(detail), limit: finite(limit, decimalsM)}
		for range min(max(faults, 0), 2*engine.MostFaults) {
			p.faults = append(p.faults, contract.Fault{Code: clip(code), Detail: clip(said), Pointer: optional(clip(pointer))})
		}
		w := httptest.NewRecorder()
		c, _ := gin.CreateTestContext(w)
		c.Request = httptest.NewRequest(http.MethodGet, "/", nil)
		writeProblem(c, p)
		checkWritten(t, w.Body.Bytes(), p)

		w = httptest.NewRecorder()
		c, _ = gin.CreateTestContext(w)
		out := lines{c: c}
		document := p.document("id")
		out.send(contract.ScenarioLine{Problem: &document})
		out.sendRaw("result", []byte("\n {} \n"))
		for i, line := range bytes.SplitAfter(w.Body.Bytes(), []byte("\n")) {
			if len(line) > 0 && !json.Valid(line) || i > 2 || i == 2 && len(line) > 0 {
				t.Errorf("line %d: %q", i, line)
			}
		}
	})
}

// checkWritten reads a problem back.
func checkWritten(t *testing.T, body []byte, p *problem) {
	t.Helper()
	var doc contract.Problem
	if err := json.Unmarshal(body, &doc); err != nil {
		t.Fatal(err)
	}
	if doc.Type != p.kind.typeURI() || doc.Status != p.kind.status || valueOr(doc.Detail, "") != p.detail {
		t.Errorf("%s from %+v", body, p)
	}
	if n := len(valueOr(doc.Errors, nil)); n != min(len(p.faults), engine.MostFaults) || valueOr(doc.ErrorsTruncated, false) != (len(p.faults) > engine.MostFaults) {
		t.Errorf("%d errors of %d", n, len(p.faults))
	}
}
