package chat

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"slices"

	"mellium.im/xmlstream"
	"mellium.im/xmpp/jid"
	"mellium.im/xmpp/stanza"
)

const nsDiscoInfo = "http://jabber.org/protocol/disco#info"

// handle takes one stanza. It must not wait: nothing else is read meanwhile.
func (l *Link) handle(t xmlstream.TokenReadEncoder, start *xml.StartElement) error {
	d := xml.NewTokenDecoder(xmlstream.MultiReader(xmlstream.Token(*start), t)) // which counts elements
	switch start.Name.Local {
	case "message":
		var m message
		if decode(d, &m) {
			l.handleMessage(m)
		}
	case "presence":
		var p presence
		if decode(d, &p) {
			l.handlePresence(p)
		}
	case "iq":
		return l.handleIQ(t, d, start)
	}
	return nil
}

// decode reads a stanza; one that can't be read is passed over.
func decode(d *xml.Decoder, into any) bool {
	err := d.Decode(into)
	return err == nil || errors.Is(err, io.EOF)
}

// message is a message that comes in.
type message struct {
	From string `xml:"from,attr"`
	Type string `xml:"type,attr"`
	ID   string `xml:"id,attr"`
	Body string `xml:"jabber:client body"`
	// Delay is of what was said before.
	Delay    *struct{} `xml:"urn:xmpp:delay delay"`
	Archived *struct {
		Query     string `xml:"queryid,attr"`
		Forwarded struct {
			Message archived `xml:"jabber:client message"`
		} `xml:"urn:xmpp:forward:0 forwarded"`
	} `xml:"urn:xmpp:mam:2 result"`
}

func (l *Link) handleMessage(m message) {
	from, err := jid.Parse(m.From)
	if err != nil && m.From != "" {
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if m.Archived != nil {
		if take := l.archives[m.Archived.Query]; take != nil {
			take(m.Archived.Forwarded.Message)
		}
		return
	}
	r := l.rooms[from.Bare().String()]
	heard := Heard{From: from, ID: m.ID, Body: m.Body, Occupant: r != nil}
	switch {
	case m.Body == "" || m.Delay != nil:
		return
	case m.Type == "groupchat":
		if r == nil || from.Resourcepart() == "" {
			return
		}
		if from.Equal(r.me) {
			l.echo(m.ID)
			return
		}
		heard.Room = from.Bare()
	case m.Type != "chat" && m.Type != "normal" && m.Type != "":
		return
	}
	select {
	case l.heard <- heard:
	default: // more is said than can be listened to
	}
}

// echo tells who waits that a room has passed a message on.
func (l *Link) echo(id string) {
	if c := l.echoes[id]; c != nil {
		close(c)
		delete(l.echoes, id)
	}
}

// presence is a presence that comes in.
type presence struct {
	From  string        `xml:"from,attr"`
	Type  string        `xml:"type,attr"`
	Error *stanza.Error `xml:"jabber:client error"`
	User  struct {
		Status []status `xml:"status"`
	} `xml:"http://jabber.org/protocol/muc#user x"`
}

type status struct {
	Code int `xml:"code,attr"`
}

func (p presence) has(code int) bool { return slices.Contains(p.User.Status, status{code}) }

func (l *Link) handlePresence(p presence) {
	from, err := jid.Parse(p.From)
	if err != nil {
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	r := l.rooms[from.Bare().String()]
	if r == nil {
		return
	}
	switch {
	case p.Type == "error":
		r.enter(fmt.Errorf("the room doesn't let the bot in: %w", refusal(p.Error)))
	case p.Type == "" && p.has(selfPresence):
		r.me, r.joined = from, true // a room may give another nick
		r.enter(p.made())
	case p.Type == "unavailable" && (from.Equal(r.me) || p.has(selfPresence)):
		r.joined = false
		r.enter(ErrNotJoined)
	}
}

// made is an error where joining made the room.
func (p presence) made() error {
	if p.has(roomMade) {
		return ErrNoRoom
	}
	return nil
}

// enter tells who waits how an attempt to join ended.
func (r *room) enter(outcome error) {
	select {
	case r.entered <- outcome:
	default: // nobody waits
	}
}

func refusal(e *stanza.Error) error {
	if e == nil {
		return errors.New("it doesn't say why")
	}
	return *e
}

// query is what others ask of the program.
type query struct {
	Ping *struct{} `xml:"urn:xmpp:ping ping"`
	Info *struct{} `xml:"http://jabber.org/protocol/disco#info query"`
}

// handleIQ answers what others ask of the program: what it is, and whether it is there. The
// session refuses the rest.
func (l *Link) handleIQ(t xmlstream.TokenReadEncoder, d *xml.Decoder, start *xml.StartElement) error {
	var q query
	iq, err := stanza.NewIQ(*start)
	if err == nil && iq.Type == stanza.GetIQ && decode(d, &q) && (q.Ping != nil || q.Info != nil) {
		_, err = xmlstream.Copy(t, iq.Result(q.answer()))
		return err
	}
	return nil
}

func (q query) answer() xml.TokenReader {
	if q.Info == nil {
		return nil
	}
	return element(nsDiscoInfo, "query", nil,
		element("", "identity", map[string]string{"category": "client", "type": "bot", "name": "Parcours"}),
		element("", "feature", map[string]string{"var": nsDiscoInfo}),
		element("", "feature", map[string]string{"var": "urn:xmpp:ping"}))
}
