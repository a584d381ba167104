package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"parcours.example/client/cmd/parcours-bot/when"
)

// All faults are named at once, and no secret is.
func TestFaults(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("HOOK", "https://user:hidden@/")
	write(t, dir, "empty", "\n")
	name := write(t, dir, "bot.toml", `
units = "cubits"
max_chars = 20
zone = "Europe/Atlantis"
sheltered_drag = 2.0
[account]
jid = "league.example"
password_file = "empty"
authorities_file = "empty"
[[rooms]]
name = "a"
jid = "riders"
[[rooms]]
name = "a"
jid = "riders@rooms.example"
password_env = "PARCOURS_TEST_NOT_SET"
[[webhooks]]
name = "w"
url_env = "HOOK"
picture = "painted"
[[courses]]
file = "missing.gpx"
[[courses]]
folder = "."
[[courses]]
[[posts]]
to = ["a", "b"]
when = "on occasion"
late_within = "a while"
[rider]
mass_kg = 7
power_w = 250
[limits]
person_per_minute = 0.0
`)
	_, faults := readSettings(name)
	var got []string
	for _, f := range faults {
		got = append(got, strings.ReplaceAll(f.Error(), dir, "DIR"))
	}
	want := []string{
		`zone: "Europe/Atlantis" is not a time zone like Europe/Brussels`,
		`account.jid: "league.example" is not an address like courses@league.example`,
		`account.password_file: DIR/empty doesn't hold a secret of 1 to 4096 bytes`,
		`account.authorities_file: empty holds no certificate`,
		`rooms[0].jid: "riders" is not a room's address like riders@rooms.league.example`,
		`rooms[1].password_env: the environment has no PARCOURS_TEST_NOT_SET`,
		`webhooks[0].url: the webhook's address isn't one like https://league.example/incoming`,
		`webhooks[0].picture: "painted" is neither attached nor address nor none`,
		`courses[0].file: stat DIR/missing.gpx: no such file or directory`,
		`courses[1].folder: there is no route file in .`,
		`courses[2]: name a file or a folder`,
		`rider.mass_kg: 7 is not from 20 to 250`,
		`state: name the directory that remembers what was posted`,
		`units: "cubits" is neither metric nor imperial`,
		`max_chars: 20 is not from 120 to 20000`,
		`sheltered_drag: 2 is not from 0.2 to 1`,
		`limits.person_per_minute: 0 is not from 0.1 to 600`,
		`rooms, webhooks: each wants a name of its own, and "a" is not`,
		`posts[0].to: there is no room and no webhook "b"`,
		`posts[0].when: "on occasion" is not a schedule like “every Thursday at 18:00”, “2 days before at 18:00”, “on the day at 08:00” or “on 2026-12-03 at 18:00”`,
		`posts[0].late_within: "a while" is not a duration from 1m to 168h0m0s, like 6h`,
		`posts[0].round: which one is next is told by courses' dates, and none has one`,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("faults (-want +got):\n%s", diff)
	}
}

func TestNoTOML(t *testing.T) {
	for text, want := range map[string]string{
		"state = 3":                           "line 1, column 9",
		"stat = \"x\"\n[account]\nnik = \"\"": "line 1: there is no setting stat",
		"state = ":                            "line 1",
	} {
		_, faults := readSettings(write(t, t.TempDir(), "bot.toml", text))
		if len(faults) == 0 || !strings.Contains(faults[0].Error(), want) {
			t.Errorf("%q: %v", text, faults)
		}
	}
	if _, faults := readSettings("nowhere.toml"); len(faults) != 1 {
		t.Errorf("no file: %v", faults)
	}
}

// A folder is a season: its files' names say when and what.
func TestFolder(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"2026-12-03-morvask-wall.gpx", "2026-11-26 Quellmere.gpx.gz", "10.fit", "9.fit", "notes.txt"} {
		write(t, dir, name, "")
	}
	c := &checker{dir: dir}
	rounds := c.rounds([]fileCourse{{Folder: "."}})
	var got []string
	for _, r := range rounds {
		date := ""
		if r.date != nil {
			date = r.date.String()
		}
		got = append(got, r.name+" "+date+" "+filepath.Base(r.file))
	}
	want := []string{"9  9.fit", "10  10.fit", "Quellmere 2026-11-26 2026-11-26 Quellmere.gpx.gz", "morvask-wall 2026-12-03 2026-12-03-morvask-wall.gpx"}
	if diff := cmp.Diff(want, got); diff != "" || len(c.faults) > 0 {
		t.Errorf("%v (-want +got):\n%s", c.faults, diff)
	}
}

func TestWhichRound(t *testing.T) {
	on := func(d int) *when.Date { return &when.Date{Year: 2026, Month: time.December, Day: d} }
	rounds := []round{{name: "Morvask Circuit and Wall", date: on(10)}, {name: "Morvask", date: on(3)}, {name: "Wall of Skarnholt", date: on(17)}, {name: "Hoskerrow Eight"}}
	for words, want := range map[string]string{
		"morvask": "Morvask", "circuit": "Morvask Circuit and Wall", "hosk": "Hoskerrow Eight", "eight hoskerrow": "Hoskerrow Eight",
		"wall": "that may be Morvask Circuit and Wall or Wall of Skarnholt", "skarnholt wall": "Wall of Skarnholt", "nowhere": "", "ho": "",
	} {
		r, err := findRound(rounds, words)
		got := ""
		switch {
		case err != nil:
			got = err.Error()
		case r != nil:
			got = r.name
		}
		if got != want {
			t.Errorf("%q is %q, want %q", words, got, want)
		}
	}
	for day, want := range map[int]string{1: "Morvask", 3: "Morvask", 4: "Morvask Circuit and Wall", 17: "Wall of Skarnholt"} {
		if got := nextRound(rounds, *on(day)); got == nil || got.name != want {
			t.Errorf("on day %d: %v", day, got)
		}
	}
	if got := nextRound(rounds, *on(18)); got != nil {
		t.Errorf("after the last: %v", got)
	}
}

func TestAddressed(t *testing.T) {
	for body, want := range map[string]string{
		"Parcours: help": "help", "parcours, help": "help", "@Parcours help": "help", "  PARCOURS help ": "help", "Parcours": "",
		"Parcours – how long": "how long",
	} {
		if rest, named := addressed(body, "Parcours"); !named || rest != want {
			t.Errorf("%q: %q, %v", body, rest, named)
		}
	}
	for _, body := range []string{"", "help", "Parcoursier: help", "Parcours2 help", "the Parcours", "Parc"} {
		if _, named := addressed(body, "Parcours"); named {
			t.Errorf("%q is for the bot", body)
		}
	}
}

// In no stretch of time are more questions answered than the limit and a bucket, and of those
// that aren't the first after an answer is told so.
func TestLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		perMinute := rapid.Float64Range(0.1, 30).Draw(t, "per minute")
		l := newLimiter(perMinute, perMinute)
		now, last := time.Unix(1e9, 0), answered
		got := 0
		began := now
		for _, wait := range rapid.SliceOfN(rapid.IntRange(0, 20_000), 1, 200).Draw(t, "waits") {
			now = now.Add(time.Duration(wait) * time.Millisecond)
			v := l.take("nour", now)
			switch {
			case v == answered:
				got++
			case v == toldToWait && last != answered, v == silent && last == answered:
				t.Fatalf("%v after %v", v, last)
			}
			last = v
		}
		if most := max(1, perMinute) + now.Sub(began).Minutes()*perMinute; float64(got) > most+1e-6 {
			t.Fatalf("%d answered, at most %v", got, most)
		}
		if l.take("isa", now) != answered {
			t.Fatal("one waits for another")
		}
	})
}

func TestWhoAsksIsForgotten(t *testing.T) {
	l := newLimiter(4, 4)
	now := time.Unix(1e9, 0)
	for i := range 3 * mostBuckets {
		l.take(string(rune(i)), now)
		if len(l.buckets) > mostBuckets {
			t.Fatal("all are remembered")
		}
	}
}

// The limits of what the bot says itself.
func TestPace(t *testing.T) {
	p := newPace()
	now := time.Unix(1e9, 0)
	var waited time.Duration
	for range 10 {
		waited = p.reserve(now)
	}
	if waited != 6*time.Second {
		t.Errorf("the tenth message waits %v", waited)
	}
	if w := p.reserve(now.Add(time.Minute)); w != 0 {
		t.Errorf("after a minute one waits %v", w)
	}
}

func TestCommandLine(t *testing.T) {
	config := write(t, t.TempDir(), "bot.toml", "")
	for _, tc := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"--help"}, exitDone, "PARCOURS_SERVER"},
		{nil, exitUsage, "expected \"<config>\""},
		{[]string{config}, exitUsage, "--server (PARCOURS_SERVER) or --local says who computes"},
		{[]string{config, "--local"}, exitUsage, "there is nowhere to post to"},
		{[]string{config, "--local", "--server=http://localhost"}, exitUsage, "--local asks no server"},
		{[]string{config, "--server=localhost"}, exitUsage, "the service's address"},
		{[]string{config, "--server=http://localhost", "--key-file=" + os.DevNull}, exitUsage, "doesn't hold a secret"},
	} {
		var out strings.Builder
		if code := run(t.Context(), tc.args, &out, &out); code != tc.code || !strings.Contains(out.String(), tc.says) {
			t.Errorf("%q: %d: %s", tc.args, code, out.String())
		}
	}
}
