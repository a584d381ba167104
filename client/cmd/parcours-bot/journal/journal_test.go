package journal

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

var noon = time.Date(2026, time.November, 26, 12, 0, 0, 0, time.UTC)

func open(t *testing.T, dir string) *Journal {
	t.Helper()
	j, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// note notes and opens the journal anew, as after a crash.
func note(t *testing.T, dir, message string, state State, at time.Time) {
	t.Helper()
	j := open(t, dir)
	if err := j.Note(message, state, at); err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
}

func look(t *testing.T, dir, message string) (State, time.Time) {
	t.Helper()
	j := open(t, dir)
	defer j.Close()
	return j.Look(message)
}

func TestWhatIsNotedStays(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "made")
	if state, _ := look(t, dir, "m"); state != Unknown {
		t.Fatalf("%q before anything was noted", state)
	}
	note(t, dir, "m", Begun, noon)
	note(t, dir, "m", Posted, noon.Add(time.Minute))
	if state, since := look(t, dir, "m"); state != Posted || !since.Equal(noon) {
		t.Fatalf("%q since %v, want posted since it began", state, since)
	}
	note(t, dir, "n", Begun, noon.Add(Keep+time.Second))
	if state, _ := look(t, dir, "m"); state != Unknown {
		t.Fatal("what is long over is still there")
	}
}

func TestSchedulesAreKnownSince(t *testing.T) {
	dir := t.TempDir()
	for i := range 2 {
		j := open(t, dir)
		since, err := j.Since("thursdays", noon.Add(time.Duration(i)*time.Hour))
		if err != nil || !since.Equal(noon) {
			t.Fatalf("known since %v, %v", since, err)
		}
		j.Close()
	}
}

// Whatever a crash leaves of the next file, the journal is the one before.
func TestCrashWhileWriting(t *testing.T) {
	dir := t.TempDir()
	note(t, dir, "m", Begun, noon)
	whole, err := os.ReadFile(filepath.Join(dir, "journal.json"))
	if err != nil {
		t.Fatal(err)
	}
	next := []byte(strings.Replace(string(whole), "begun", "posted", 1))
	for n := range len(next) + 1 {
		if err := os.WriteFile(filepath.Join(dir, "journal.json.next"), next[:n], 0o600); err != nil {
			t.Fatal(err)
		}
		if state, _ := look(t, dir, "m"); state != Begun {
			t.Fatalf("%q with %d bytes of the next file", state, n)
		}
	}
	note(t, dir, "m", Posted, noon)
	if state, _ := look(t, dir, "m"); state != Posted {
		t.Fatalf("%q after a crash", state)
	}
}

func TestDamageIsTold(t *testing.T) {
	for _, text := range []string{"", "{", "null", `{"schedules":{}}`, `[]`} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, "journal.json"), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(dir); err == nil || !strings.Contains(err.Error(), "damaged") {
			t.Errorf("%q: %v", text, err)
		}
	}
}

func TestOneProcessAtATime(t *testing.T) {
	dir := t.TempDir()
	j := open(t, dir)
	if _, err := Open(dir); err == nil || !strings.Contains(err.Error(), "another bot") {
		t.Fatalf("opened twice: %v", err)
	}
	j.Close()
	open(t, dir).Close()
}

func TestWhatCantBeWrittenIsAnError(t *testing.T) {
	dir := t.TempDir()
	j := open(t, dir)
	defer j.Close()
	if err := os.Mkdir(filepath.Join(dir, "journal.json.next"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := j.Note("m", Begun, noon); err == nil {
		t.Fatal("noted nowhere")
	}
}
