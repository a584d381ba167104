package main

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// served is the page over a board that has been answered, with a service that draws.
func served(t testing.TB, draws drawer) *web {
	t.Helper()
	r, _, _ := refresherOf(t, answering())
	r.look(t.Context())
	return &web{board: r.board, pictures: &pictures{draws, r.inputs.open}}
}

// ask asks the page as a browser on this machine does.
func ask(w *web, method, target string, header ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequestWithContext(context.Background(), method, target, nil)
	r.Host = "localhost:8090"
	for i := 0; i < len(header); i += 2 {
		if header[i] == "Host" {
			r.Host = header[i+1]
		}
		r.Header.Set(header[i], header[i+1])
	}
	out := httptest.NewRecorder()
	w.handler().ServeHTTP(out, r)
	return out
}

func TestReplies(t *testing.T) {
	w := served(t, nil)
	for _, c := range []struct {
		method, target string
		status         int
		mediaType      string
	}{
		{"GET", "/", 200, "text/html; charset=utf-8"},
		{"HEAD", "/", 200, "text/html; charset=utf-8"},
		{"GET", "/page/dashboard.js", 200, "text/javascript; charset=utf-8"},
		{"GET", "/page/dom.js", 200, "text/javascript; charset=utf-8"},
		{"GET", "/page/main.js", 404, "text/plain; charset=utf-8"},
		{"GET", "/answers.json", 200, "application/json"},
		{"GET", "/answers.json?rider=Nour", 200, "application/json"},
		{"GET", "/rounds.csv", 200, "text/csv; charset=utf-8; header=present"},
		{"GET", "/times.csv?round=round-2-dyke.csv", 200, "text/csv; charset=utf-8; header=present"},
		{"GET", "/rounds.csv?rider=Nobody", 404, "text/plain; charset=utf-8"},
		{"GET", "/answers.json?round=none", 404, "text/plain; charset=utf-8"},
		{"GET", "/rounds.csv?order=time", 400, "text/plain; charset=utf-8"},
		{"GET", "/answers.json?%zz", 400, "text/plain; charset=utf-8"},
		{"POST", "/answers.json", 405, "text/plain; charset=utf-8"},
		{"GET", "/nothing", 404, "text/plain; charset=utf-8"},
		{"GET", "/pictures/none", 404, "text/plain; charset=utf-8"},
	} {
		out := ask(w, c.method, c.target)
		h := out.Header()
		if out.Code != c.status || h.Get("Content-Type") != c.mediaType {
			t.Errorf("%s %s: %d, %s", c.method, c.target, out.Code, h.Get("Content-Type"))
		}
		if h.Get("Cache-Control") != "private, no-cache" || h.Get("X-Content-Type-Options") != "nosniff" || !strings.HasPrefix(h.Get("Content-Security-Policy"), "default-src 'none'") {
			t.Errorf("%s %s: %v", c.method, c.target, h)
		}
		if tag := h.Get("ETag"); c.status == 200 && ask(w, c.method, c.target, "If-None-Match", tag).Code != http.StatusNotModified {
			t.Errorf("%s %s: tag %q isn't known again", c.method, c.target, tag)
		}
	}
}

// A page elsewhere that gives this machine a name of its own gets nothing.
func TestOtherHostsAreTurnedAway(t *testing.T) {
	w := served(t, nil)
	for host, status := range map[string]int{
		"localhost": 200, "localhost:8090": 200, "127.0.0.1:8090": 200, "[::1]:8090": 200, "::1": 200,
		"season.example": 421, "season.example:8090": 421, "127.0.0.1.season.example": 421, "": 421,
	} {
		if got := ask(w, "GET", "/answers.json", "Host", host).Code; got != status {
			t.Errorf("%q: %d, not %d", host, got, status)
		}
	}
	w.anyHost = true
	if got := ask(w, "GET", "/", "Host", "season.example").Code; got != 200 {
		t.Errorf("on a network: %d", got)
	}
}

// forgetful draws courses that it has been sent, and knows none at first.
type forgetful struct {
	sent  int
	asked []string
	err   error
}

func (f *forgetful) CoursePicture(_ context.Context, id string, _ client.PictureForm, options *contract.DrawCourseParams) ([]byte, error) {
	if f.sent == 0 {
		return nil, &client.Problem{Problem: contract.Problem{Type: "/problems/course-not-cached", Status: 404}}
	}
	f.asked = append(f.asked, id+" "+string(*options.Theme)+" "+string(*options.Units))
	return []byte("<svg/>"), f.err
}

func (f *forgetful) AnalyseCourse(_ context.Context, file client.File, _ *contract.AnalyseCourseParams) (*contract.Course, error) {
	f.sent++
	_, err := io.Copy(io.Discard, file.Content)
	return nil, err
}

func TestPicturesComeFromTheService(t *testing.T) {
	draws := &forgetful{}
	w := served(t, draws)
	id := w.board.snapshot().Rounds[2].CourseID
	for range 2 {
		out := ask(w, "GET", "/pictures/"+id+"?theme=dark&wide=1&units=imperial")
		if out.Code != 200 || out.Body.String() != "<svg/>" || out.Header().Get("Content-Type") != "image/svg+xml" {
			t.Errorf("%d %s", out.Code, out.Body)
		}
	}
	if draws.sent != 1 || draws.asked[1] != id+" dark imperial" {
		t.Errorf("%+v", draws)
	}
	draws.err = errGone
	if out := ask(w, "GET", "/pictures/"+id); out.Code != http.StatusBadGateway || strings.Contains(out.Body.String(), errGone.Error()) {
		t.Errorf("%d %s", out.Code, out.Body)
	}
}
