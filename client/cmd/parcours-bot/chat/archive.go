package chat

import (
	"context"
	"crypto/rand"
	"encoding/xml"
	"errors"
	"fmt"
	"strconv"
	"time"

	"mellium.im/xmpp/jid"
	"mellium.im/xmpp/stanza"
)

// The namespaces of histories.
const (
	nsMAM  = "urn:xmpp:mam:2"
	nsRSM  = "http://jabber.org/protocol/rsm"
	nsForm = "jabber:x:data"
)

// archivePages and archivePage bound how far back a history is searched.
const (
	archivePages = 20
	archivePage  = 100
)

// Said reports whether a room's history holds a message of the bot's since a moment. It fails
// with ErrNoArchive where the room keeps none.
func (l *Link) Said(ctx context.Context, address jid.JID, id string, since time.Time) (bool, error) {
	after := ""
	for range archivePages {
		found, end, err := l.archivePage(ctx, address, id, since, after)
		if found || err != nil || end.Complete || end.Last == "" {
			return found, err
		}
		after = end.Last
	}
	return false, fmt.Errorf("%w so far back", ErrNoArchive)
}

// archiveEnd says where a page of a history ends.
type archiveEnd struct {
	Complete bool   `xml:"complete,attr"`
	Last     string `xml:"http://jabber.org/protocol/rsm set>last"`
}

// archived is a message of a room's history.
type archived struct {
	From     string `xml:"from,attr"`
	ID       string `xml:"id,attr"`
	OriginID struct {
		ID string `xml:"id,attr"`
	} `xml:"urn:xmpp:sid:0 origin-id"`
}

// archivePage looks for a message of the bot's on one page of a room's history.
func (l *Link) archivePage(ctx context.Context, address jid.JID, id string, since time.Time, after string) (found bool, end archiveEnd, err error) {
	query := rand.Text()
	l.mu.Lock()
	me := ""
	if r := l.rooms[address.Bare().String()]; r != nil {
		me = r.me.String()
	}
	l.archives[query] = func(m archived) {
		found = found || m.From == me && (m.ID == id || m.OriginID.ID == id)
	}
	l.mu.Unlock()
	err = l.ask(ctx, stanza.IQ{Type: stanza.SetIQ, To: address.Bare()}, archiveQuery(query, since, after), &end)
	l.mu.Lock()
	delete(l.archives, query) // whoever writes found holds the lock, so nobody does any more
	l.mu.Unlock()
	if refusal, refused := errors.AsType[stanza.Error](err); refused {
		return false, end, fmt.Errorf("%w: %s", ErrNoArchive, refusal.Condition)
	}
	return found, end, err
}

// archiveQuery asks for a page of what was said since a moment, in order.
func archiveQuery(id string, since time.Time, after string) xml.TokenReader {
	field := func(name, value string) xml.TokenReader {
		return element("", "field", map[string]string{"var": name}, element("", "value", nil, text(value)))
	}
	page := []xml.TokenReader{element("", "max", nil, text(strconv.Itoa(archivePage)))}
	if after != "" {
		page = append(page, element("", "after", nil, text(after)))
	}
	return element(nsMAM, "query", map[string]string{"queryid": id},
		element(nsForm, "x", map[string]string{"type": "submit"},
			field("FORM_TYPE", nsMAM), field("start", since.UTC().Format(time.RFC3339))),
		element(nsRSM, "set", nil, page...))
}
