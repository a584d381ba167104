package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"parcours.example/api/contract"
	"parcours.example/client/cmd/parcours-bot/hook"
	"parcours.example/client/cmd/parcours-bot/journal"
	"parcours.example/client/cmd/parcours-bot/when"
	"parcours.example/client/local"
)

// wall is a target that counts what it gets, and can be made to fail.
type wall struct {
	got map[string]int
	// fail is called before a message is taken, after is called behind that.
	fail, after func(id string) error
	// forgetful is a wall that can't tell what is on it; shut one that nobody gets to.
	forgetful, shut bool
}

func (w *wall) ready() bool       { return !w.shut }
func (w *wall) kinds() []partKind { return []partKind{{name: "brief", text: true}} }

func (w *wall) send(_ context.Context, p part) error {
	if err := w.fail(p.id); err != nil {
		return err
	}
	w.got[p.id]++
	return w.after(p.id)
}

func (w *wall) sent(_ context.Context, id string, _ time.Time) (bool, error) {
	if w.forgetful {
		return false, errNobodyKnows
	}
	return w.got[id] > 0, nil
}

func (w *wall) posted() int {
	n := 0
	for _, times := range w.got {
		n += times
	}
	return n
}

func newWall() *wall {
	well := func(string) error { return nil }
	return &wall{got: map[string]int{}, fail: well, after: well}
}

// posterOf is a poster of one round to a target called "there", every Thursday at six in the
// evening, in Brussels.
func posterOf(t *testing.T, dir string, to target) *poster {
	t.Helper()
	c, closeService, err := local.New(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(closeService)
	j, err := journal.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { j.Close() })
	zone, err := time.LoadLocation("Europe/Brussels")
	if err != nil {
		t.Fatal(err)
	}
	schedule, err := when.Parse("every Thursday at 18:00", zone)
	if err != nil {
		t.Fatal(err)
	}
	file, err := filepath.Abs("../../../testdata/season/skarnholt-hill-climb.gpx")
	if err != nil {
		t.Fatal(err)
	}
	s := &settings{
		units: contract.Metric, maxChars: 300, zone: zone, rounds: []round{{name: "Skarnholt", file: file, date: &when.Date{Year: 2026, Month: time.December, Day: 3}}},
		posts: []post{{to: []string{"there"}, text: "every Thursday at 18:00", schedule: schedule, round: "next", late: 6 * time.Hour}},
	}
	season := &season{client: c, known: map[string]known{}}
	return &poster{
		settings: s, journal: j, teller: &teller{settings: s, season: season}, targets: map[string]target{"there": to},
		logger: slog.New(slog.DiscardHandler), again: map[string]retry{},
	}
}

// six is when the post falls due; start is well before.
var (
	six   = time.Date(2026, time.November, 26, 17, 0, 0, 0, time.UTC)
	begin = six.Add(-24 * time.Hour)
)

func TestPostedOnce(t *testing.T) {
	w := newWall()
	p := posterOf(t, t.TempDir(), w)
	for _, at := range []time.Time{begin, six.Add(-time.Second)} {
		p.tick(t.Context(), at)
	}
	if w.posted() != 0 {
		t.Fatal("posted before it is due")
	}
	for i := range 10 {
		p.tick(t.Context(), six.Add(time.Duration(i)*time.Minute))
	}
	if w.posted() != 1 {
		t.Fatalf("posted %d times", w.posted())
	}
	p.tick(t.Context(), six.AddDate(0, 0, 7))
	if w.posted() != 2 {
		t.Fatalf("posted %d times in the week after, want the round of that day", w.posted())
	}
	p.tick(t.Context(), six.AddDate(0, 0, 14)) // the last round is over
	if w.posted() != 2 {
		t.Fatal("a round that is over is posted")
	}
}

var errCrash = errors.New("crash")

// Whatever breaks off where, a post is there once; where nobody can tell what is there, at
// most once.
func TestCrashes(t *testing.T) {
	for _, forgetful := range []bool{false, true} {
		for _, point := range []string{"before it is begun", "before it is sent", "after it is sent", "after it is noted"} {
			dir := t.TempDir()
			w := newWall()
			w.forgetful = forgetful
			func() { // a process that ends
				defer func() {
					if r := recover(); r != nil && r != errCrash { //nolint:errorlint // itself
						panic(r)
					}
				}()
				p := posterOf(t, dir, w)
				defer p.journal.Close()
				p.tick(t.Context(), begin)
				switch point {
				case "before it is sent":
					w.fail = func(string) error { panic(errCrash) }
				case "after it is sent":
					w.after = func(string) error { panic(errCrash) }
				case "after it is noted":
					p.tick(t.Context(), six)
					panic(errCrash)
				}
				if point != "before it is begun" {
					p.tick(t.Context(), six)
				}
			}()
			well := newWall()
			w.fail, w.after = well.fail, well.after
			p := posterOf(t, dir, w)
			for i := range 3 {
				p.tick(t.Context(), six.Add(time.Duration(i+1)*10*time.Minute))
			}
			want := 1
			if forgetful && point == "before it is sent" {
				want = 0
			}
			if w.posted() != want {
				t.Errorf("%s, forgetful %v: posted %d times, want %d", point, forgetful, w.posted(), want)
			}
		}
	}
}

func TestFailures(t *testing.T) {
	for name, tc := range map[string]struct {
		failure error
		// comes is whether the post is there at last, kept how often it is tried in six hours.
		comes bool
		tries int
	}{
		"not now":   {errNotNow, true, 4},
		"uncertain": {errUncertain, true, 4},
		"refused":   {errors.New("refused"), false, 1},
	} {
		w := newWall()
		tries := 0
		w.fail = func(string) error {
			if tries++; tries < 4 {
				return fmt.Errorf("it fails: %w", tc.failure)
			}
			return nil
		}
		p := posterOf(t, t.TempDir(), w)
		p.tick(t.Context(), begin)
		for i := range 100 {
			p.tick(t.Context(), six.Add(time.Duration(i)*time.Minute))
		}
		if (w.posted() == 1) != tc.comes || tries != tc.tries {
			t.Errorf("%s: posted %d times in %d tries", name, w.posted(), tries)
		}
	}
}

func TestLate(t *testing.T) {
	for late, want := range map[time.Duration]int{6 * time.Hour: 1, 6*time.Hour + time.Second: 0} {
		w := newWall()
		p := posterOf(t, t.TempDir(), w)
		p.tick(t.Context(), begin)
		w.shut = true
		p.tick(t.Context(), six)
		w.shut = false
		p.tick(t.Context(), six.Add(late))
		p.tick(t.Context(), six.Add(late+time.Minute))
		if w.posted() != want {
			t.Errorf("%v late: posted %d times", late, w.posted())
		}
	}
	// What fell due before the bot was there is nobody's.
	w := newWall()
	posterOf(t, t.TempDir(), w).tick(t.Context(), six.Add(time.Minute))
	if w.posted() != 0 {
		t.Error("posted what fell due before")
	}
}

// A webhook that fails gets its post once it takes it, and what it may have taken it doesn't
// get again.
func TestWebhook(t *testing.T) {
	var mu sync.Mutex
	var ids, texts []string
	answers := []int{503, 429, 200}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := r.ParseMultipartForm(1 << 20); err != nil || len(r.MultipartForm.File["picture"]) != 1 {
			t.Errorf("no picture: %v", err)
		}
		mu.Lock()
		defer mu.Unlock()
		ids, texts = append(ids, r.FormValue("id")), append(texts, r.FormValue("text"))
		if answers[0] == 0 {
			panic(http.ErrAbortHandler)
		}
		w.WriteHeader(answers[0])
		answers = answers[1:]
	}))
	defer server.Close()
	h, err := hook.New(server.URL, []byte("secret"), &http.Transport{DisableKeepAlives: true})
	if err != nil {
		t.Fatal(err)
	}
	p := posterOf(t, t.TempDir(), hookTarget{hookSettings: hookSettings{name: "there", hook: h, picture: "attached"}})
	p.tick(t.Context(), begin)
	for i := range 20 {
		p.tick(t.Context(), six.Add(time.Duration(i)*time.Minute))
	}
	mu.Lock()
	if len(ids) != 3 || ids[0] == "" || ids[0] != ids[2] || !strings.Contains(texts[2], "Skarnholt") {
		t.Errorf("posted %q", ids)
	}
	answers = []int{0, 200}
	mu.Unlock()
	for i := range 20 {
		p.tick(t.Context(), six.AddDate(0, 0, 7).Add(time.Duration(i)*time.Minute))
	}
	mu.Lock()
	defer mu.Unlock()
	if len(ids) != 4 {
		t.Errorf("posted %q: what may have been taken is posted again", ids)
	}
}
