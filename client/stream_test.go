package client

import (
	"errors"
	"strings"
	"testing"
)

// Whatever comes as a stream, reading it ends, and without its end there is an error.
func FuzzReadLines(f *testing.F) {
	for _, s := range []string{
		"", "{}\n", `{"progress":{"runs":2,"runs_done":1}}` + "\n" + `{"result":{}}` + "\n" + `{"end":{"runs":2,"runs_done":2}}` + "\n",
		`{"problem":{"type":"/problems/busy","status":503,"title":"x"}}`, "null\n[]\n", `{"end":{}}`,
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, stream string) {
		results := 0
		var last error
		for line, err := range readLines(strings.NewReader(stream)) {
			if last != nil {
				t.Fatal("it goes on after an error")
			}
			if line != nil && line.Result != nil {
				results++
			}
			last = err
		}
		if last == nil && results == 0 {
			t.Errorf("taken for whole: %q", stream)
		}
		if p := (*Problem)(nil); last != nil && !errors.Is(last, ErrReply) && !errors.As(last, &p) {
			t.Errorf("%v", last)
		}
	})
}

// The same of a season's stream, whose end is told.
func FuzzReadSeason(f *testing.F) {
	for _, s := range []string{
		"", `{"progress":{"done":1}}` + "\n" + `{"item":{"index":0}}` + "\n" + `{"end":{"answered":1,"failed":0,"comparison":{}}}` + "\n",
		`{"item":{"index":0}}` + "\n", `{"problem":{"type":"/problems/busy","status":503,"title":"x"}}`, "null\n[]\n",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, stream string) {
		ended := false
		var last error
		for line, err := range readSeason(strings.NewReader(stream)) {
			if last != nil || ended {
				t.Fatal("it goes on after its end")
			}
			last, ended = err, line != nil && line.End != nil
		}
		if last == nil && !ended {
			t.Errorf("taken for whole: %q", stream)
		}
		if p := (*Problem)(nil); last != nil && !errors.Is(last, ErrReply) && !errors.As(last, &p) {
			t.Errorf("%v", last)
		}
	})
}

// What a client keeps to send again is bounded, and what was used least recently goes first.
func TestOrigins(t *testing.T) {
	o := newOrigins()
	made := func(id string, size int) origin {
		return origin{id: id, call: call{body: &payload{content: []byte(strings.Repeat("x", size))}}}
	}
	o.keep(made("huge", mostOriginBytes))
	third := mostOriginBytes/3 + 1
	o.keep(made("a", third))
	o.keep(made("b", third))
	o.of("a")
	o.keep(made("c", third))
	o.keep(made("c", third)) // again
	for id, want := range map[string]bool{"huge": false, "a": true, "b": false, "c": true} {
		if _, kept := o.of(id); kept != want {
			t.Errorf("%s kept: %v", id, kept)
		}
	}
	if o.bytes != 2*third {
		t.Errorf("%d bytes", o.bytes)
	}
}
