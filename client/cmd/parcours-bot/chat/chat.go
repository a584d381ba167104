// Package chat talks XMPP as a member of rooms does: it joins rooms (XEP-0045), takes what is
// said in them and in private, says things and knows when a room has them, looks them up in a
// room's history (XEP-0313) and puts pictures where all can fetch them (XEP-0363, XEP-0066).
//
// A Link is one connection; when it is done, dial another one.
package chat

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/xml"
	"errors"
	"fmt"
	"maps"
	"net"
	"net/http"
	"slices"
	"sync"
	"time"

	"mellium.im/sasl"
	"mellium.im/xmlstream"
	"mellium.im/xmpp"
	"mellium.im/xmpp/dial"
	"mellium.im/xmpp/jid"
	"mellium.im/xmpp/stanza"
)

// Account is who the bot is.
type Account struct {
	JID      jid.JID
	Password string
	// Address is host:port of the server, "" where DNS says it.
	Address string
	// Roots are the authorities that vouch for the server and for where it keeps files, nil for
	// the system's.
	Roots *x509.CertPool
}

// Heard is a message that somebody sent.
type Heard struct {
	// From is the sender's address: of an occupant, or of an account.
	From jid.JID
	// Room is the room's address where it was said to all of it, else empty.
	Room jid.JID
	// Occupant reports whether the sender is an occupant of a room that was joined, in the open
	// or in private.
	Occupant bool
	ID, Body string
}

// Errors of a link.
var (
	// ErrGone is of a link whose connection is over.
	ErrGone = errors.New("the connection is over")
	// ErrNoArchive is of a room whose history can't be searched.
	ErrNoArchive = errors.New("the room keeps no history that can be searched")
	// ErrNoUpload is of a server that keeps no files.
	ErrNoUpload = errors.New("the server keeps no files for others to fetch")
)

// Link is one connection to the account's server. It is safe for concurrent use.
type Link struct {
	session *xmpp.Session
	account Account
	files   *http.Client
	heard   chan<- Heard
	done    chan struct{}
	err     error

	mu       sync.Mutex
	rooms    map[string]*room
	echoes   map[string]chan struct{}
	archives map[string]func(archived)
}

// room is a room of a link.
type room struct {
	me jid.JID
	// entered takes the outcome of an attempt to join.
	entered chan error
	joined  bool
}

// Bounds of waiting.
const (
	dialWait  = 20 * time.Second
	askWait   = 20 * time.Second
	pingEvery = 60 * time.Second
	closeWait = 3 * time.Second
)

// Dial connects, encrypted and with the password never sent in the clear, and says the
// account is there. What is heard is put into a channel, and dropped where that is full.
func Dial(ctx context.Context, a Account, heard chan<- Heard) (*Link, error) {
	ctx, cancel := context.WithTimeout(ctx, dialWait)
	defer cancel()
	conn, err := connect(ctx, a)
	if err != nil {
		return nil, fmt.Errorf("the chat server can't be reached: %w", err)
	}
	secure := &tls.Config{ServerName: a.JID.Domainpart(), RootCAs: a.Roots, MinVersion: tls.VersionTLS12}
	session, err := xmpp.NewClientSession(ctx, a.JID, conn,
		xmpp.StartTLS(secure),
		xmpp.SASL("", a.Password, sasl.ScramSha256Plus, sasl.ScramSha256, sasl.ScramSha1Plus, sasl.ScramSha1),
		xmpp.BindResource())
	if err != nil {
		_ = conn.Close() // it is of no more use
		return nil, fmt.Errorf("the chat server doesn't let the account in: %w", err)
	}
	l := &Link{
		session: session, account: a, heard: heard, done: make(chan struct{}),
		files: &http.Client{Timeout: time.Minute, Transport: &http.Transport{
			Proxy: http.ProxyFromEnvironment, TLSClientConfig: &tls.Config{RootCAs: a.Roots, MinVersion: tls.VersionTLS12}, DisableKeepAlives: true,
		}},
		rooms: map[string]*room{}, echoes: map[string]chan struct{}{}, archives: map[string]func(archived){},
	}
	go l.serve()
	go l.ping()
	if err := session.Send(ctx, stanza.Presence{}.Wrap(nil)); err != nil {
		l.Close()
		return nil, fmt.Errorf("%w: %w", ErrGone, err)
	}
	return l, nil
}

// connect opens the connection that is encrypted later on.
func connect(ctx context.Context, a Account) (net.Conn, error) {
	if a.Address != "" {
		return new(net.Dialer).DialContext(ctx, "tcp", a.Address)
	}
	return (&dial.Dialer{NoTLS: true}).Dial(ctx, "tcp", a.JID)
}

func (l *Link) serve() {
	l.err = l.session.Serve(xmpp.HandlerFunc(l.handle))
	_ = l.session.Conn().Close() // nothing can be sent any more
	close(l.done)
}

// Done is closed when the connection is over.
func (l *Link) Done() <-chan struct{} { return l.done }

// ping finds out that nobody is there any more.
func (l *Link) ping() {
	tick := time.NewTicker(pingEvery)
	defer tick.Stop()
	for {
		select {
		case <-l.done:
			return
		case <-tick.C:
		}
		ctx, cancel := context.WithTimeout(context.Background(), askWait)
		err := l.ask(ctx, stanza.IQ{Type: stanza.GetIQ, To: l.account.JID.Domain()}, element("urn:xmpp:ping", "ping", nil), nil)
		cancel()
		if _, answered := errors.AsType[stanza.Error](err); err != nil && !answered {
			_ = l.session.Conn().Close() // serve ends by it
			return
		}
	}
}

// Close ends the connection.
func (l *Link) Close() {
	_ = l.session.Close() // the server may have gone first
	select {
	case <-l.done:
	case <-time.After(closeWait):
		_ = l.session.Conn().Close()
		<-l.done
	}
}

// ask sends a query and reads its answer's payload, if answer isn't nil. A refusal is a
// stanza.Error.
func (l *Link) ask(ctx context.Context, iq stanza.IQ, payload xml.TokenReader, answer any) error {
	ctx, cancel := context.WithTimeout(ctx, askWait)
	defer cancel()
	defer l.untilDone(cancel)()
	if err := l.session.UnmarshalIQElement(ctx, payload, iq, answer); err != nil {
		return l.gone(err)
	}
	return nil
}

// untilDone cancels what waits when the connection is over: a session knows nothing of that.
// What it returns ends the watch.
func (l *Link) untilDone(cancel context.CancelFunc) func() {
	ended := make(chan struct{})
	go func() {
		select {
		case <-l.done:
			cancel()
		case <-ended:
		}
	}()
	return func() { close(ended) }
}

// gone says of an error whether the connection is over.
func (l *Link) gone(err error) error {
	select {
	case <-l.done:
		return fmt.Errorf("%w: %w", ErrGone, err)
	default:
		return err
	}
}

// element writes an element with what is in it.
func element(space, local string, attributes map[string]string, inner ...xml.TokenReader) xml.TokenReader {
	start := xml.StartElement{Name: xml.Name{Space: space, Local: local}}
	for _, name := range slices.Sorted(maps.Keys(attributes)) {
		start.Attr = append(start.Attr, xml.Attr{Name: xml.Name{Local: name}, Value: attributes[name]})
	}
	return xmlstream.Wrap(xmlstream.MultiReader(inner...), start)
}

func text(s string) xml.TokenReader { return xmlstream.Token(xml.CharData(s)) }
