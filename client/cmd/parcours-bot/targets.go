package main

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"mellium.im/xmpp/jid"

	"parcours.example/client"
	"parcours.example/client/cmd/parcours-bot/chat"
	"parcours.example/client/cmd/parcours-bot/hook"
)

// line is the connection to the chat server, while there is one. It is safe for concurrent use.
type line struct {
	mu   sync.Mutex
	link *chat.Link
	pace *pace
}

func (l *line) set(link *chat.Link) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.link = link
}

// current returns the connection, nil where there is none.
func (l *line) current() *chat.Link {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.link
}

// upload puts a picture where others can fetch it.
func (l *line) upload(ctx context.Context, png []byte) (string, error) {
	link := l.current()
	if link == nil {
		return "", fmt.Errorf("%w: there is no connection to the chat server", errNotNow)
	}
	address, err := link.Upload(ctx, "course.png", "image/png", png)
	if err != nil && !errors.Is(err, chat.ErrNoUpload) {
		return "", fmt.Errorf("%w: %w", errNotNow, err)
	}
	return address, err
}

// roomTarget posts to a room: the brief, and the picture behind it.
type roomTarget struct {
	address jid.JID
	line    *line
}

func (t roomTarget) ready() bool {
	link := t.line.current()
	return link != nil && link.Joined(t.address)
}

func (roomTarget) kinds() []partKind {
	return []partKind{{name: "brief", text: true}, {name: "picture", picture: true}}
}

func (t roomTarget) send(ctx context.Context, p part) error {
	link := t.line.current()
	if link == nil || !link.Joined(t.address) {
		return fmt.Errorf("%w: not in the room", errNotNow)
	}
	m := chat.Message{ID: p.id, Body: p.text}
	if p.picture != nil {
		var err error
		if m.URL, err = t.line.upload(ctx, p.picture); err != nil {
			return err
		}
	}
	if err := t.line.pace.wait(ctx); err != nil {
		return fmt.Errorf("%w: %w", errNotNow, err)
	}
	err := link.Say(ctx, t.address, m)
	switch {
	case errors.Is(err, chat.ErrNotJoined):
		return fmt.Errorf("%w: %w", errNotNow, err)
	case err != nil:
		return fmt.Errorf("%w: %w", errUncertain, err)
	}
	return nil
}

// clockSkew is how far the chat server's clock may be behind.
const clockSkew = 5 * time.Minute

func (t roomTarget) sent(ctx context.Context, id string, since time.Time) (bool, error) {
	link := t.line.current()
	if link == nil || !link.Joined(t.address) {
		return false, fmt.Errorf("%w: not in the room", errNotNow)
	}
	there, err := link.Said(ctx, t.address, id, since.Add(-clockSkew))
	if errors.Is(err, chat.ErrNoArchive) {
		return false, fmt.Errorf("%w: %w", errNobodyKnows, err)
	}
	return there, err
}

// hookTarget posts to a webhook: the brief with the picture or its address, in one message.
type hookTarget struct {
	hookSettings
	line *line
}

func (t hookTarget) ready() bool { return t.picture != "address" || t.line.current() != nil }

func (t hookTarget) kinds() []partKind {
	return []partKind{{name: "brief", text: true, picture: t.picture != "none"}}
}

func (t hookTarget) send(ctx context.Context, p part) error {
	m := hook.Message{ID: p.id, Text: p.text}
	switch t.picture {
	case "attached":
		m.Picture = p.picture
	case "address":
		var err error
		m.PictureURL, err = t.line.upload(ctx, p.picture)
		if err != nil && !errors.Is(err, chat.ErrNoUpload) { // where there is no place for pictures the text goes alone
			return err
		}
	}
	err := t.hook.Post(ctx, m)
	switch {
	case errors.Is(err, hook.ErrAway):
		return fmt.Errorf("%w: %w", errNotNow, err)
	case errors.Is(err, hook.ErrUncertain):
		return fmt.Errorf("%w: %w", errUncertain, err)
	}
	return err
}

func (hookTarget) sent(context.Context, string, time.Time) (bool, error) {
	return false, fmt.Errorf("%w: a webhook can't be asked", errNobodyKnows)
}

// plain takes out of an error what the service says of a request: it may hold what somebody
// asked.
func plain(err error) error {
	if p, ok := errors.AsType[*client.Problem](err); ok {
		return fmt.Errorf("%w (%d)", p.Kind(), p.Status)
	}
	return err
}
