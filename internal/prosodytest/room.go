package prosodytest

import (
	"context"
	"crypto/tls"
	"encoding/xml"
	"net"
	"time"

	"mellium.im/sasl"
	"mellium.im/xmlstream"
	"mellium.im/xmpp"
	"mellium.im/xmpp/jid"
	"mellium.im/xmpp/stanza"
)

// MakeRoom makes a room that stays, as an account that goes again.
func (s *Server) MakeRoom(account, room string) {
	s.t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	conn, err := new(net.Dialer).DialContext(ctx, "tcp", s.Address())
	if err != nil {
		s.t.Fatal(err)
	}
	defer conn.Close()
	session, err := xmpp.NewClientSession(ctx, jid.MustParse(account+"@"+Domain), conn,
		xmpp.StartTLS(&tls.Config{ServerName: Domain, RootCAs: s.Roots, MinVersion: tls.VersionTLS12}),
		xmpp.SASL("", account, sasl.ScramSha256), xmpp.BindResource())
	if err != nil {
		s.t.Fatal(err)
	}
	there := make(chan struct{})
	served := make(chan error, 1)
	go func() {
		served <- session.Serve(xmpp.HandlerFunc(func(_ xmlstream.TokenReadEncoder, start *xml.StartElement) error {
			if start.Name.Local == "message" { // the subject, which comes last
				close(there)
			}
			return nil
		}))
	}()
	me := jid.MustParse(room + "@" + Rooms + "/" + account)
	x := xmlstream.Wrap(nil, xml.StartElement{Name: xml.Name{Space: "http://jabber.org/protocol/muc", Local: "x"}})
	if err := session.Send(ctx, stanza.Presence{To: me}.Wrap(x)); err != nil {
		s.t.Fatal(err)
	}
	select {
	case <-there:
	case <-ctx.Done():
		s.t.Fatalf("the room isn't made:\n%s", s.log.String())
	}
	if err := session.Close(); err != nil {
		s.t.Fatal(err)
	}
	if err := <-served; err != nil {
		s.t.Fatal(err)
	}
}
