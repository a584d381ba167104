package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"parcours.example/api/contract"
)

func TestDigestFollowsEveryInput(t *testing.T) {
	in := invented(t)
	in.question = filepath.Join(t.TempDir(), "question.json")
	write(t, in.question, `{"conditions": {"wind_mps": 0}}`)
	read := func() string {
		t.Helper()
		asked, err := in.read()
		if err != nil {
			t.Fatal(err)
		}
		return asked.digest
	}
	before := read()
	if again := read(); again != before {
		t.Error("the digest changes by itself")
	}
	for _, change := range []struct {
		name string
		do   func()
	}{
		{"a round", func() { write(t, in.path("round-2-dyke.csv"), profile(11, func(int) int { return 4 })) }},
		{"a round's name", func() { rename(t, in.path("round-2-dyke.csv"), in.path("round-1-dyke.csv")) }},
		{"a round more", func() { write(t, in.path("round-4.csv"), profile(5, func(int) int { return 9 })) }},
		{"a round less", func() { rename(t, in.path("round-4.csv"), in.path("round-4.csv.bak")) }},
		{"the roster", func() { write(t, in.riders, "name,mass_kg,power_w\nNour,62,230\n") }},
		{"the question", func() { write(t, in.question, `{"conditions": {"wind_mps": 1, "wind_from_deg": 0}}`) }},
	} {
		change.do()
		after := read()
		if after == before {
			t.Errorf("%s changes, and the digest doesn't", change.name)
		}
		before = after
	}
}

func rename(t *testing.T, from, to string) {
	t.Helper()
	if err := os.Rename(from, to); err != nil {
		t.Fatal(err)
	}
}

// A file that has lain unchanged for a while isn't read again; one that was changed a moment
// ago is, even where its time and size are the same.
func TestFilesAreReadAgainOnlyWhereTheyMayHaveChanged(t *testing.T) {
	in := invented(t)
	path := in.path("round-2-dyke.csv")
	at := time.Now().Add(-time.Hour)
	digest := func() string {
		t.Helper()
		if err := os.Chtimes(path, at, at); err != nil {
			t.Fatal(err)
		}
		asked, err := in.read()
		if err != nil {
			t.Fatal(err)
		}
		return asked.digest
	}
	before := digest()
	write(t, path, profile(12, func(int) int { return 7 })) // of the same size, and the same time
	if digest() != before {
		t.Error("a file that lies as it was is read again")
	}
	in.now = func() time.Time { return at.Add(settled) }
	if digest() == before {
		t.Error("a change within the clock's coarseness isn't seen")
	}
}

func TestRoundsAreInOrderWithoutTheRoster(t *testing.T) {
	in := invented(t)
	inside := in.path("roster.csv")
	rename(t, in.riders, inside)
	in.riders = inside
	asked, err := in.read()
	if want := []string{"round-2-dyke.csv", "round-3-words.gpx", "round-10-summit.csv"}; err != nil || !slices.Equal(asked.names, want) {
		t.Errorf("%v, %v", asked, err)
	}
}

func TestRidersAreNamedAndHaveAnEffort(t *testing.T) {
	for _, c := range []struct {
		roster, question string
		effort           contract.EffortKind
		fault            string
	}{
		{"mass_kg,power_w\n61,230\n70,255\n", "", contract.OwnPower, ""},
		{"mass_kg,critical_power_w,w_prime_j\n61,245,15000\n70,265,17000\n", "", contract.Best, ""},
		{"mass_kg\n61\n70\n", `{"effort": {"kind": "power", "power_w": 250}}`, contract.Power, ""},
		{"mass_kg,power_w\n61,230\n70,\n", "", "", "1 of 2 riders have a power_w"},
		{"name,mass_kg,power_w\nNour,61,230\nNour,70,230\n", "", "", `two riders are called "Nour"`},
		{"name,mass_kg,power_w\nNour,6137,230\n", "", "", "line 2"},
		{"", `{"riders": []}`, "", "there are no riders"},
		{"mass_kg,power_w\n61,230\n", `{"rounds": []}`, "", "rounds"},
		{"mass_kg,power_w\n61,230\n", `{"conditions": {"wind_mps": "6137"}}`, "", "conditions.wind_mps is of the wrong type"},
		{"mass_kg,power_w\n61,230\n", `{} {}`, "", "behind the JSON object"},
	} {
		in := invented(t)
		in.riders = ""
		if c.roster != "" {
			in.riders = filepath.Join(t.TempDir(), "roster.csv")
			write(t, in.riders, c.roster)
		}
		if c.question != "" {
			in.question = filepath.Join(t.TempDir(), "question.json")
			write(t, in.question, c.question)
		}
		asked, err := in.read()
		switch {
		case c.fault != "":
			if err == nil || !strings.Contains(err.Error(), c.fault) || strings.Contains(err.Error(), "6137") {
				t.Errorf("%q, %q: %v", c.roster, c.question, err)
			}
		case err != nil:
			t.Errorf("%q, %q: %v", c.roster, c.question, err)
		case asked.request.Effort.Kind != c.effort || *(*asked.request.Riders)[1].Name != "Rider 2":
			t.Errorf("%q, %q: effort %q, rider %q", c.roster, c.question, asked.request.Effort.Kind, *(*asked.request.Riders)[1].Name)
		}
	}
}

func TestFolderWithoutRounds(t *testing.T) {
	in := invented(t)
	in.folder = t.TempDir()
	if _, err := in.read(); err == nil || !strings.Contains(err.Error(), "no route file") {
		t.Errorf("an empty folder: %v", err)
	}
	in.folder = filepath.Join(in.folder, "none")
	if _, err := in.read(); err == nil {
		t.Error("a folder that isn't there: no error")
	}
}
