package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"image/png"
	"io"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"go.uber.org/goleak"
	"mellium.im/xmpp/jid"

	"parcours.example/client"
	"parcours.example/client/cmd/parcours-bot/chat"
	"parcours.example/client/local"
	"parcours.example/internal/golden"
	"parcours.example/internal/prosodytest"
	"parcours.example/internal/sharedlog"
)

// asBot is the variable of the environment by which the tests' own program is the bot.
const asBot = "PARCOURS_TEST_AS_BOT"

func TestMain(m *testing.M) {
	if os.Getenv(asBot) != "" {
		main()
	}
	goleak.VerifyTestMain(m)
}

// thursday is a Thursday at half past five in Brussels, half an hour before the post.
var thursday = time.Date(2026, time.November, 26, 16, 30, 0, 0, time.UTC)

// configured writes a configuration and what it names, and returns its name.
func configured(t *testing.T, s *prosodytest.Server, more string) string {
	t.Helper()
	dir := t.TempDir()
	season, err := filepath.Abs("../../../testdata/season")
	if err != nil {
		t.Fatal(err)
	}
	write(t, dir, "password", "bot\n")
	return write(t, dir, "bot.toml", strings.NewReplacer("$ADDRESS", s.Address(), "$ROOTS", s.RootsFile, "$SEASON", season).Replace(`
state = "state"
zone = "Europe/Brussels"
max_chars = 700
[account]
jid = "bot@league.test"
password_file = "password"
nick = "Parcours"
address = "$ADDRESS"
authorities_file = "$ROOTS"
[[rooms]]
name = "riders"
jid = "riders@rooms.league.test"
[[courses]]
file = "$SEASON/quellmere-criterium.gpx"
name = "Quellmere Criterium"
date = 2026-11-21
[[courses]]
file = "$SEASON/morvask-laps-and-climb.gpx"
name = "Morvask Circuit and Wall"
date = 2026-11-28
[[courses]]
file = "$SEASON/hoskerrow-eight.gpx"
name = "Hoskerrow Eight"
date = 2026-12-05
[[posts]]
when = "every Thursday at 18:00"
`+more))
}

func write(t *testing.T, dir, name, content string) string {
	t.Helper()
	name = filepath.Join(dir, name)
	if err := os.WriteFile(name, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

// service is the real one within the process, which can be away.
type service struct {
	*local.Service
	away atomic.Bool
}

func (s *service) RoundTrip(r *http.Request) (*http.Response, error) {
	if s.away.Load() {
		return nil, errors.New("connection refused")
	}
	return s.Service.RoundTrip(r)
}

// running is a bot that runs within the test.
type running struct {
	bot     *bot
	service *service
	log     *sharedlog.Buffer
	moment  atomic.Int64
	stop    func()
}

// start runs a bot from a configuration at a moment.
func start(t *testing.T, config string, now time.Time) *running {
	t.Helper()
	s, faults := readSettings(config)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	inner, err := local.Open()
	if err != nil {
		t.Fatal(err)
	}
	r := &running{service: &service{Service: inner}, log: new(sharedlog.Buffer)}
	c, err := client.New("http://courses.test", client.WithHTTPClient(&http.Client{Transport: r.service}), client.WithoutRetries())
	if err != nil {
		t.Fatal(err)
	}
	r.bot = newBot(s, c, slog.New(slog.NewJSONHandler(r.log, nil)))
	r.bot.now = func() time.Time { return time.Unix(0, r.moment.Load()) }
	r.bot.line.pace.every = time.Millisecond
	r.set(now)
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- r.bot.run(ctx) }()
	r.stop = sync.OnceFunc(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		inner.Close()
	})
	t.Cleanup(r.stop)
	return r
}

// awaitRoom waits until the bot is in the room.
func (r *running) awaitRoom(t *testing.T) {
	t.Helper()
	await(t, "the bot in the room", func() bool {
		link := r.bot.line.current()
		return link != nil && link.Joined(ridersRoom)
	})
}

// await waits until something is.
func await(t *testing.T, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(30 * time.Second); !is(); <-time.After(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("there is no %s", what)
		}
	}
}

// set sets the bot's clock, and has it look at it.
func (r *running) set(now time.Time) {
	r.moment.Store(now.UnixNano())
	select {
	case r.bot.entered <- struct{}{}:
	default:
	}
}

// member is somebody in the room.
type member struct {
	t     *testing.T
	link  *chat.Link
	heard chan chat.Heard
	said  int
}

var ridersRoom = jid.MustParse("riders@" + prosodytest.Rooms)

// newMember has somebody come into the room.
func newMember(t *testing.T, s *prosodytest.Server, account, nick string) *member {
	t.Helper()
	m := &member{t: t, heard: make(chan chat.Heard, 1000)}
	var err error
	m.link, err = chat.Dial(t.Context(), chat.Account{JID: jid.MustParse(account + "@" + prosodytest.Domain), Password: account, Address: s.Address(), Roots: s.Roots}, m.heard)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(m.link.Close)
	if err := m.link.Join(t.Context(), ridersRoom, nick, ""); err != nil {
		t.Fatal(err)
	}
	return m
}

// say says something in the room.
func (m *member) say(body string) {
	m.t.Helper()
	m.said++
	if err := m.link.Say(m.t.Context(), ridersRoom, chat.Message{ID: fmt.Sprint("m", m.said), Body: body}); err != nil {
		m.t.Fatal(err)
	}
}

// whisper says something to an address in private.
func (m *member) whisper(to string, occupant bool, body string) {
	m.t.Helper()
	m.said++
	if err := m.link.Whisper(m.t.Context(), jid.MustParse(to), occupant, chat.Message{ID: fmt.Sprint("m", m.said), Body: body}); err != nil {
		m.t.Fatal(err)
	}
}

// hear returns what is said next.
func (m *member) hear() string {
	m.t.Helper()
	select {
	case h := <-m.heard:
		return h.Body
	case <-time.After(20 * time.Second):
		m.t.Fatal("nothing is said")
		return ""
	}
}

// fetched reports whether an address holds a picture as wide as the bot's are.
func fetched(t *testing.T, s *prosodytest.Server, address string) {
	t.Helper()
	h := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: s.Roots}, DisableKeepAlives: true}}
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address, nil)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := h.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	content, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	size, err := png.DecodeConfig(strings.NewReader(string(content)))
	if err != nil || size.Width != pictureWidth {
		t.Errorf("%s holds %d bytes, %v: %v", address, len(content), size, err)
	}
}

// An evening in the room, as the README has it.
func TestAnEvening(t *testing.T) {
	s := prosodytest.Start(t, true, "bot", "nour", "owner")
	s.MakeRoom("owner", "riders")
	nour := newMember(t, s, "nour", "Nour")
	r := start(t, configured(t, s, "[limits]\nperson_per_minute = 5\n"), thursday)
	r.awaitRoom(t)
	var b strings.Builder
	ask := func(question string) {
		nour.say(question)
		fmt.Fprintf(&b, "Nour: %s\n\n", question)
		answer := nour.hear()
		if strings.HasPrefix(answer, "https://") {
			fetched(t, s, answer)
			answer = "https://files.league.example/…/course.png"
		}
		fmt.Fprintf(&b, "Parcours: %s\n\n", answer)
	}
	ask("Parcours: help")
	ask("parcours, how long for 72 kg at 280 W?")
	ask("@Parcours hoskerrow 158,7 lb and 3.9 w/kg sheltered how long")
	ask("Parcours: picture of round 1")
	nour.say("nothing for a bot, said Parcours in passing")
	golden.Check(t, "evening.txt", b.String())
	checkReadme(t, b.String())

	// In private, from within the room and from outside.
	for _, to := range []string{ridersRoom.String() + "/Parcours", "bot@" + prosodytest.Domain} {
		nour.whisper(to, strings.Contains(to, "/"), "280 watts, 72 kg indoors, Quellmere")
		if answer := nour.hear(); !strings.Contains(answer, "Quellmere Criterium, 30.0 km") || !strings.Contains(answer, "indoors") {
			t.Errorf("in private: %q", answer)
		}
	}

	// At six the brief of the next round is posted, and its picture; once.
	r.set(thursday.Add(30 * time.Minute))
	if brief := nour.hear(); !strings.HasPrefix(brief, "Morvask Circuit and Wall\n\n48.8 km") {
		t.Errorf("posted: %q", brief)
	}
	fetched(t, s, nour.hear())

	// Who asks too much is told once.
	for range 7 {
		nour.say("Parcours: rounds")
	}
	told := 0
	for range 6 {
		if strings.Contains(nour.hear(), "I answer so many questions in a minute and no more") {
			told++
		}
	}
	if told != 1 {
		t.Errorf("told %d times", told)
	}
	nour.whisper("bot@"+prosodytest.Domain, false, "help")
	if answer := nour.hear(); !strings.HasPrefix(answer, "Ask me") {
		t.Errorf("after too many questions, from elsewhere: %q", answer)
	}
	r.stop()

	checkPrivate(t, r.log.String(), "280", "72", "158", "Nour", "nour", "W/kg")
}

// checkReadme demands that the talk in the README is of an evening.
func checkReadme(t *testing.T, evening string) {
	t.Helper()
	readme, err := os.ReadFile("../../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, section, _ := strings.Cut(string(readme), "## A chat bot")
	_, talk, _ := strings.Cut(section, "```text\n")
	talk, _, _ = strings.Cut(talk, "```")
	words := func(s string) string { return strings.Join(strings.Fields(s), " ") }
	if talk == "" || !strings.Contains(words(evening), words(talk)) {
		t.Errorf("the README has another evening:\n%s", talk)
	}
}

// checkPrivate demands that what was asked, and who asked, stands in no record of a log.
func checkPrivate(t *testing.T, log string, secrets ...string) {
	t.Helper()
	for line := range strings.Lines(log) {
		_, record, found := strings.Cut(line, ",") // behind the time
		for _, secret := range secrets {
			if !found || strings.Contains(record, secret) {
				t.Errorf("%q is in the log: %s", secret, line)
			}
		}
	}
}

// The service goes away and comes back: whoever asks meanwhile is told once, and what falls
// due is posted when it is back.
func TestTheServiceIsAway(t *testing.T) {
	s := prosodytest.Start(t, false, "bot", "nour", "owner")
	s.MakeRoom("owner", "riders")
	nour := newMember(t, s, "nour", "Nour")
	r := start(t, configured(t, s, ""), thursday)
	r.awaitRoom(t)
	r.service.away.Store(true)
	for range 2 {
		nour.say("Parcours: how long for 73 kg at 287 W?")
	}
	if answer := nour.hear(); !strings.Contains(answer, "I can't reach what computes for me") {
		t.Errorf("away: %q", answer)
	}
	r.set(thursday.Add(30 * time.Minute))
	await(t, "failed attempt to post", func() bool { return strings.Contains(r.log.String(), "it can't be written now") })
	r.service.away.Store(false)
	r.set(thursday.Add(50 * time.Minute))
	if brief := nour.hear(); !strings.HasPrefix(brief, "Morvask Circuit and Wall\n\n48.8 km") {
		t.Errorf("posted: %q", brief)
	}
	r.stop()
	checkPrivate(t, r.log.String(), "287", "73", "Nour", "nour")
}

// The chat server is started again: the bot comes back by itself.
func TestTheChatServerIsRestarted(t *testing.T) {
	s := prosodytest.Start(t, false, "bot", "nour", "owner")
	s.MakeRoom("owner", "riders")
	r := start(t, configured(t, s, ""), thursday)
	r.awaitRoom(t)
	s.Stop()
	await(t, "lost connection", func() bool { return r.bot.line.current() == nil })
	s.Restart()
	r.awaitRoom(t)
	nour := newMember(t, s, "nour", "Nour")
	nour.say("Parcours: rounds")
	if answer := nour.hear(); !strings.Contains(answer, "2. Morvask Circuit and Wall, 2026-11-28 (next)") {
		t.Errorf("back: %q", answer)
	}
}

// Before it runs, all that it needs can be tried.
func TestCheck(t *testing.T) {
	s := prosodytest.Start(t, false, "bot", "owner")
	s.MakeRoom("owner", "riders")
	config := configured(t, s, "[[posts]]\nwhen = \"on 2026-01-01 at 08:00\"\nround = \"hoskerrow\"\n")
	var out strings.Builder
	if code := run(t.Context(), []string{config, "--local", "--check"}, &out, &out); code != exitDone ||
		!strings.Contains(out.String(), "All holds: rounds 3, rooms 1, webhooks 0.") || !strings.Contains(out.String(), "every Thursday at 18:00: next on Thu ") {
		t.Errorf("%d: %s", code, out.String())
	}
	text, err := os.ReadFile(config)
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Dir(config)
	write(t, dir, "broken.gpx", "<gpx")
	config = write(t, dir, "bot.toml", strings.ReplaceAll(string(text), "riders@rooms", "nowhere@rooms")+"[[courses]]\nfile = \"broken.gpx\"\n")
	out.Reset()
	code := run(t.Context(), []string{config, "--local", "--check"}, &out, &out)
	for _, want := range []string{"the course of broken", "room riders: there is no such room"} {
		if code != exitFailed || !strings.Contains(out.String(), want) {
			t.Errorf("%d: %s, want %q", code, out.String(), want)
		}
	}
}
