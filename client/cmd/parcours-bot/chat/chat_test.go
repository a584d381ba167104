package chat

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"
	"mellium.im/xmpp/jid"
	"mellium.im/xmpp/stanza"

	"parcours.example/internal/prosodytest"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var riders = jid.MustParse("riders@" + prosodytest.Rooms)

func account(s *prosodytest.Server, name string) Account {
	return Account{JID: jid.MustParse(name + "@" + prosodytest.Domain + "/test"), Password: name, Address: s.Address(), Roots: s.Roots}
}

// dial connects as somebody and returns what they hear.
func dialAs(t *testing.T, s *prosodytest.Server, name string) (*Link, chan Heard) {
	t.Helper()
	heard := make(chan Heard, 100)
	l, err := Dial(t.Context(), account(s, name), heard)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(l.Close)
	return l, heard
}

func join(t *testing.T, l *Link, nick string) {
	t.Helper()
	if err := l.Join(t.Context(), riders, nick, ""); err != nil {
		t.Fatal(err)
	}
}

func next(t *testing.T, heard chan Heard) Heard {
	t.Helper()
	select {
	case h := <-heard:
		return h
	case <-time.After(10 * time.Second):
		t.Fatal("nothing is heard")
		return Heard{}
	}
}

func TestRoom(t *testing.T) {
	s := prosodytest.Start(t, true, "bot", "nour", "isa", "owner")
	s.MakeRoom("owner", "riders")
	bot, heard := dialAs(t, s, "bot")
	join(t, bot, "Parcours")
	if err := bot.Join(t.Context(), jid.MustParse("nowhere@"+prosodytest.Rooms), "Parcours", ""); !errors.Is(err, ErrNoRoom) {
		t.Errorf("a room that isn't there: %v", err)
	}
	if !bot.Joined(riders) {
		t.Fatal("joined and not in")
	}
	nour, nourHeard := dialAs(t, s, "nour")
	join(t, nour, "Nour")

	// What the bot says comes to others, and is known to have been said.
	began := time.Now().Add(-time.Minute)
	m := Message{ID: "bot-" + "1", Body: "48.8 km <climbing> & 1114 m\nof ascent \x00"}
	if err := bot.Say(t.Context(), riders, m); err != nil {
		t.Fatal(err)
	}
	for id, want := range map[string]bool{m.ID: true, "bot-" + "2": false} {
		if said, err := bot.Said(t.Context(), riders, id, began); err != nil || said != want {
			t.Errorf("%s was said: %v, %v", id, said, err)
		}
	}
	if h := next(t, nourHeard); h.ID != m.ID || h.Body != strings.ReplaceAll(m.Body, "\x00", "\uFFFD") {
		t.Errorf("others hear %+v", h)
	}

	// Others can ask what it is.
	me, _ := riders.WithResource("Parcours")
	var info struct {
		Identity struct {
			Category string `xml:"category,attr"`
			Type     string `xml:"type,attr"`
		} `xml:"identity"`
	}
	if err := nour.ask(t.Context(), stanza.IQ{Type: stanza.GetIQ, To: me}, element(nsDiscoInfo, "query", nil), &info); err != nil || info.Identity.Type != "bot" {
		t.Errorf("it says it is %+v: %v", info, err)
	}
	if err := nour.ask(t.Context(), stanza.IQ{Type: stanza.GetIQ, To: me}, element("urn:xmpp:ping", "ping", nil), nil); err != nil {
		t.Error(err)
	}
	if err := nour.ask(t.Context(), stanza.IQ{Type: stanza.GetIQ, To: me}, element("jabber:iq:last", "query", nil), nil); err == nil {
		t.Error("it answers what it doesn't know")
	}

	// What others say is heard, in the open and in private.
	if err := nour.Say(t.Context(), riders, Message{ID: "n1", Body: "Parcours: help"}); err != nil {
		t.Fatal(err)
	}
	if h := next(t, heard); h.Body != "Parcours: help" || !h.Room.Equal(riders) || h.From.Resourcepart() != "Nour" {
		t.Errorf("heard %+v", h)
	}
	if err := nour.Whisper(t.Context(), me, true, Message{ID: "n2", Body: "72 kg"}); err != nil {
		t.Fatal(err)
	}
	whispered := next(t, heard)
	if whispered.Body != "72 kg" || !whispered.Occupant || !whispered.Room.Equal(jid.JID{}) {
		t.Errorf("heard %+v", whispered)
	}
	if err := nour.Whisper(t.Context(), account(s, "bot").JID.Bare(), false, Message{ID: "n3", Body: "directly"}); err != nil {
		t.Fatal(err)
	}
	if h := next(t, heard); h.Body != "directly" || h.Occupant {
		t.Errorf("heard %+v", h)
	}

	// However much was said since.
	for i := range 2*archivePage + 1 {
		if err := nour.Say(t.Context(), riders, Message{ID: fmt.Sprint("more", i), Body: "."}); err != nil {
			t.Fatal(err)
		}
	}
	last := Message{ID: "bot-last", Body: "behind it"}
	if err := bot.Say(t.Context(), riders, last); err != nil {
		t.Fatal(err)
	}
	for id, want := range map[string]bool{last.ID: true, m.ID: true, "bot-2": false} {
		if said, err := bot.Said(t.Context(), riders, id, began); err != nil || said != want {
			t.Errorf("%s was said, by a long history: %v, %v", id, said, err)
		}
	}

	// Who comes later hears nothing of it.
	isa, isaHeard := dialAs(t, s, "isa")
	join(t, isa, "Isa")
	if err := isa.Say(t.Context(), riders, Message{ID: "i1", Body: "hello"}); err != nil {
		t.Fatal(err)
	}
	if len(isaHeard) > 0 {
		t.Errorf("history is heard: %+v", <-isaHeard)
	}
	if err := isa.Join(t.Context(), riders, "Nour", ""); err == nil {
		t.Error("a nick that is taken can be had")
	}
}

func TestPicture(t *testing.T) {
	s := prosodytest.Start(t, false, "bot", "owner")
	s.MakeRoom("owner", "riders")
	bot, _ := dialAs(t, s, "bot")
	join(t, bot, "Parcours")
	content := []byte("\x89PNG\r\n\x1a\nas good as one")
	address, err := bot.Upload(t.Context(), "course.png", "image/png", content)
	if err != nil {
		t.Fatal(err)
	}
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address, nil)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := bot.files.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if got, _ := io.ReadAll(answer.Body); string(got) != string(content) || answer.Header.Get("Content-Type") != "image/png" {
		t.Errorf("%s is fetched: %v %q", address, answer.Header, got)
	}
	if err := bot.Say(t.Context(), riders, Message{ID: "bot-" + "p", URL: address}); err != nil {
		t.Fatal(err)
	}
	if _, err := bot.Said(t.Context(), riders, "bot-"+"p", time.Now().Add(-time.Minute)); !errors.Is(err, ErrNoArchive) {
		t.Errorf("a room without a history: %v", err)
	}
}

func TestTheServerGoes(t *testing.T) {
	s := prosodytest.Start(t, true, "bot", "owner")
	s.MakeRoom("owner", "riders")
	bot, _ := dialAs(t, s, "bot")
	join(t, bot, "Parcours")
	s.Stop()
	<-bot.Done()
	if err := bot.Say(t.Context(), riders, Message{ID: "bot-" + "1", Body: "to nobody"}); err == nil {
		t.Error("said to a server that is gone")
	}
	if _, err := bot.Said(t.Context(), riders, "x", time.Now()); !errors.Is(err, ErrGone) {
		t.Errorf("asked a server that is gone: %v", err)
	}
	if _, err := Dial(t.Context(), account(s, "bot"), nil); err == nil {
		t.Error("connected to nobody")
	}
	s.Restart()
	again, _ := dialAs(t, s, "bot")
	join(t, again, "Parcours")
	if err := again.Say(t.Context(), riders, Message{ID: "bot-" + "2", Body: "back"}); err != nil {
		t.Error(err)
	}
}

func TestWhoIsLetIn(t *testing.T) {
	s := prosodytest.Start(t, false, "bot")
	for name, change := range map[string]func(*Account){
		"a wrong password":     func(a *Account) { a.Password = "wrong" },
		"an unknown authority": func(a *Account) { a.Roots = nil },
		"another's domain":     func(a *Account) { a.JID = jid.MustParse("bot@elsewhere.test") },
	} {
		a := account(s, "bot")
		change(&a)
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
		if l, err := Dial(ctx, a, nil); err == nil {
			t.Errorf("%s is good enough", name)
			l.Close()
		}
		cancel()
	}
}

// What a room repeats of before, of errors and without words isn't heard, even unasked.
func TestWhatIsNotHeard(t *testing.T) {
	heard := make(chan Heard, 1)
	l := &Link{heard: heard, rooms: map[string]*room{riders.String(): {me: jid.MustParse(riders.String() + "/Parcours")}}}
	said := message{From: riders.String() + "/Nour", Type: "groupchat", Body: "Parcours: help"}
	for name, change := range map[string]func(*message){
		"said before":      func(m *message) { m.Delay = &struct{}{} },
		"an error":         func(m *message) { m.Type = "error" },
		"without words":    func(m *message) { m.Body = "" },
		"the room's own":   func(m *message) { m.From = riders.String() },
		"the bot's own":    func(m *message) { m.From = riders.String() + "/Parcours" },
		"of another room":  func(m *message) { m.From = "other@rooms.test/Nour" },
		"from no address":  func(m *message) { m.From = "@" },
		"a headline to it": func(m *message) { m.Type = "headline" },
	} {
		m := said
		change(&m)
		l.handleMessage(m)
		if len(heard) > 0 {
			t.Errorf("%s is heard: %+v", name, <-heard)
		}
	}
	l.handleMessage(said)
	if len(heard) != 1 {
		t.Error("what is said isn't heard")
	}
}
