package keys

import (
	"bytes"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"
)

// written is a file of keys that a test changes; each version is a second younger.
type written struct {
	t    *testing.T
	name string
	age  time.Time
}

func (w *written) write(text string) {
	w.t.Helper()
	if err := os.WriteFile(w.name, []byte(text), 0o600); err != nil {
		w.t.Fatal(err)
	}
	w.age = w.age.Add(time.Second)
	if err := os.Chtimes(w.name, w.age, w.age); err != nil {
		w.t.Fatal(err)
	}
}

func TestFileIsTakenAnew(t *testing.T) {
	w := &written{t: t, name: filepath.Join(t.TempDir(), "keys"), age: time.Now()}
	first, second := New(), New()
	w.write(Line(Client{Name: "a"}, first))
	var log bytes.Buffer
	registry := prometheus.NewRegistry()
	f, err := Open(w.name, slog.New(slog.NewTextHandler(&log, nil)), registry)
	if err != nil {
		t.Fatal(err)
	}
	knows := func(key string) bool { _, known := f.Client(key); return known }
	look := func(times int, wantFirst, wantSecond bool, what string) {
		t.Helper()
		for range times {
			f.look()
		}
		if knows(first) != wantFirst || knows(second) != wantSecond {
			t.Errorf("%s: the first key is known: %v, the second: %v", what, knows(first), knows(second))
		}
	}
	look(3, true, false, "at the start")
	w.write(Line(Client{Name: "a"}, first) + "\n" + Line(Client{Name: "a"}, second))
	look(1, true, false, "just written")
	look(1, true, true, "lying still")
	w.write("client=a")
	look(5, true, true, "broken")
	if n := strings.Count(log.String(), "refused"); n != 1 || !strings.Contains(log.String(), "line 1: sha256 is missing") {
		t.Errorf("refused %d times in the log:\n%s", n, &log)
	}
	w.write("")
	look(5, true, true, "empty")
	if err := os.Remove(w.name); err != nil {
		t.Fatal(err)
	}
	look(5, true, true, "gone")
	w.write(Line(Client{Name: "a"}, second))
	look(2, false, true, "mended")
	for outcome, want := range map[string]float64{loadTaken: 3, loadRefused: 3} {
		if got := testutil.ToFloat64(f.loads.WithLabelValues(outcome)); got != want {
			t.Errorf("%v versions were %s, want %v:\n%s", got, outcome, want, &log)
		}
	}
	if strings.Contains(log.String(), keyPrefix) {
		t.Errorf("a key is in the log:\n%s", &log)
	}
}

// The clock of a synctest bubble stands still but for waits, so Watch takes no time.
func TestWatchLooksUntilItEnds(t *testing.T) {
	w := &written{t: t, name: filepath.Join(t.TempDir(), "keys"), age: time.Now()}
	first, second := New(), New()
	w.write(Line(Client{Name: "a"}, first))
	f, err := Open(w.name, slog.New(slog.DiscardHandler), nil)
	if err != nil {
		t.Fatal(err)
	}
	synctest.Test(t, func(t *testing.T) {
		go f.Watch(t.Context())
		w.write(Line(Client{Name: "a"}, second))
		time.Sleep(2*pollEvery + time.Millisecond)
		synctest.Wait()
		if _, known := f.Client(second); !known {
			t.Error("the new version isn't taken")
		}
	})
}

func TestOpenRefuses(t *testing.T) {
	dir := t.TempDir()
	large := filepath.Join(dir, "large")
	if err := os.WriteFile(large, bytes.Repeat([]byte("#\n"), mostFileBytes/2+1), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{filepath.Join(dir, "none"), dir, large} {
		if _, err := Open(name, slog.New(slog.DiscardHandler), nil); err == nil || Check(name) == nil {
			t.Errorf("%s is taken", name)
		}
	}
}
