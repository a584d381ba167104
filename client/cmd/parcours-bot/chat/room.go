package chat

import (
	"context"
	"encoding/xml"
	"errors"
	"fmt"

	"mellium.im/xmlstream"
	"mellium.im/xmpp/jid"
	"mellium.im/xmpp/stanza"
)

// The namespaces of rooms.
const (
	nsMUC     = "http://jabber.org/protocol/muc"
	nsMUCUser = "http://jabber.org/protocol/muc#user"
	nsOOB     = "jabber:x:oob"
	nsDelay   = "urn:xmpp:delay"
	nsClient  = "jabber:client"
)

// The statuses of presences (XEP-0045, 15.6.2): of an occupant's own, and of one that made the
// room by joining it.
const (
	selfPresence = 110
	roomMade     = 201
)

// Errors of rooms.
var (
	// ErrNotJoined is of a room that the bot isn't in.
	ErrNotJoined = errors.New("not in the room")
	// ErrNoRoom is of a room that wasn't there before the bot came.
	ErrNoRoom = errors.New("there is no such room: make it first")
)

// Join enters a room under a nick, without its history. It returns once the room has let the
// bot in, or an error that says why it doesn't.
func (l *Link) Join(ctx context.Context, address jid.JID, nick, password string) error {
	me, err := address.WithResource(nick)
	if err != nil {
		return fmt.Errorf("the nick: %w", err)
	}
	ctx, cancel := context.WithTimeout(ctx, askWait)
	defer cancel()
	r := &room{me: me, entered: make(chan error, 1)}
	l.mu.Lock()
	l.rooms[address.Bare().String()] = r
	l.mu.Unlock()
	inner := []xml.TokenReader{element("", "history", map[string]string{"maxstanzas": "0"})}
	if password != "" {
		inner = append(inner, element("", "password", nil, text(password)))
	}
	if err := l.session.Send(ctx, stanza.Presence{To: me}.Wrap(element(nsMUC, "x", nil, inner...))); err != nil {
		return l.gone(err)
	}
	select {
	case err := <-r.entered:
		if errors.Is(err, ErrNoRoom) {
			_ = l.session.Send(ctx, leaving(me)) // the room goes with its only occupant
		}
		return err
	case <-l.done:
		return ErrGone
	case <-ctx.Done():
		return fmt.Errorf("the room doesn't answer: %w", ctx.Err())
	}
}

// Joined reports whether the bot is in a room.
func (l *Link) Joined(address jid.JID) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	r := l.rooms[address.Bare().String()]
	return r != nil && r.joined
}

// Leave says good-bye to all rooms.
func (l *Link) Leave(ctx context.Context) {
	l.mu.Lock()
	var from []jid.JID
	for _, r := range l.rooms {
		if r.joined {
			from = append(from, r.me)
		}
	}
	l.mu.Unlock()
	for _, me := range from {
		_ = l.session.Send(ctx, leaving(me)) // the room sees the connection end at the latest
	}
}

func leaving(me jid.JID) xml.TokenReader {
	return stanza.Presence{To: me, Type: stanza.UnavailablePresence}.Wrap(nil)
}

// Message is what the bot says.
type Message struct {
	// ID tells the message from others.
	ID string
	// Body is the text; URL the address of a picture, which is then the body.
	Body, URL string
}

// Say says something to a room and returns once the room has passed it on. With another error
// than ErrNotJoined it may have been said all the same: Said knows.
func (l *Link) Say(ctx context.Context, address jid.JID, m Message) error {
	if !l.Joined(address) {
		return ErrNotJoined
	}
	ctx, cancel := context.WithTimeout(ctx, askWait)
	defer cancel()
	echo := make(chan struct{})
	l.mu.Lock()
	l.echoes[m.ID] = echo
	l.mu.Unlock()
	defer func() {
		l.mu.Lock()
		delete(l.echoes, m.ID)
		l.mu.Unlock()
	}()
	if err := l.session.Send(ctx, m.stanza(address.Bare(), stanza.GroupChatMessage)); err != nil {
		return l.gone(err)
	}
	select {
	case <-echo:
		return nil
	case <-l.done:
		return ErrGone
	case <-ctx.Done():
		return fmt.Errorf("the room doesn't pass the message on: %w", ctx.Err())
	}
}

// Whisper says something to one occupant or account.
func (l *Link) Whisper(ctx context.Context, to jid.JID, occupant bool, m Message) error {
	var more []xml.TokenReader
	if occupant {
		more = append(more, element(nsMUCUser, "x", nil))
	}
	return l.session.Send(ctx, m.stanza(to, stanza.ChatMessage, more...))
}

func (m Message) stanza(to jid.JID, kind stanza.MessageType, more ...xml.TokenReader) xml.TokenReader {
	body := m.Body
	if m.URL != "" { // clients show a picture where the body is its address alone
		body = m.URL
		more = append(more, element(nsOOB, "x", nil, element("", "url", nil, text(m.URL))))
	}
	inner := append([]xml.TokenReader{
		element("", "body", nil, text(body)),
		element("urn:xmpp:sid:0", "origin-id", map[string]string{"id": m.ID}),
	}, more...)
	return stanza.Message{ID: m.ID, To: to, Type: kind}.Wrap(xmlstream.MultiReader(inner...))
}
