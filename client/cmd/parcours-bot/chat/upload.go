package chat

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/http"

	"mellium.im/xmpp/jid"
	"mellium.im/xmpp/stanza"
	"mellium.im/xmpp/upload"
)

const nsDiscoItems = "http://jabber.org/protocol/disco#items"

// Upload puts a file where others can fetch it and returns its address. It fails with
// ErrNoUpload where the server has no such place.
func (l *Link) Upload(ctx context.Context, name, mediaType string, content []byte) (string, error) {
	service, err := l.uploadService(ctx)
	if err != nil {
		return "", err
	}
	var slot upload.Slot
	file := upload.File{Name: name, Size: len(content), Type: mediaType}
	if err := l.ask(ctx, stanza.IQ{Type: stanza.GetIQ, To: service}, file.TokenReader(), &slot); err != nil {
		return "", fmt.Errorf("the server has no room for the file: %w", err)
	}
	if slot.PutURL == nil || slot.GetURL == nil || slot.PutURL.Scheme != "https" {
		return "", errors.New("the server has no safe place for the file")
	}
	if slot.Header == nil {
		slot.Header = http.Header{}
	}
	request, err := slot.Put(ctx, bytes.NewReader(content))
	if err != nil {
		return "", err
	}
	request.Header.Set("Content-Type", mediaType)
	answer, err := l.files.Do(request)
	if err != nil {
		return "", fmt.Errorf("the file can't be put: %w", err)
	}
	defer answer.Body.Close() //nolint:errcheck // only its status counts
	if answer.StatusCode != http.StatusCreated && answer.StatusCode != http.StatusOK {
		return "", fmt.Errorf("the file isn't taken: %d", answer.StatusCode)
	}
	return slot.GetURL.String(), nil
}

// KeepsFiles fails with ErrNoUpload where the server has no place for files.
func (l *Link) KeepsFiles(ctx context.Context) error {
	_, err := l.uploadService(ctx)
	return err
}

// uploadService finds what keeps files: the server itself or one of its parts.
func (l *Link) uploadService(ctx context.Context) (jid.JID, error) {
	domain := l.account.JID.Domain()
	if ok, err := l.keepsFiles(ctx, domain); ok || err != nil {
		return domain, err
	}
	var parts struct {
		Item []struct {
			JID string `xml:"jid,attr"`
		} `xml:"item"`
	}
	err := l.ask(ctx, stanza.IQ{Type: stanza.GetIQ, To: domain}, element(nsDiscoItems, "query", nil), &parts)
	if _, refused := errors.AsType[stanza.Error](err); err != nil && !refused {
		return jid.JID{}, err
	}
	for _, part := range parts.Item {
		address, err := jid.Parse(part.JID)
		if err != nil {
			continue
		}
		if ok, err := l.keepsFiles(ctx, address); ok || err != nil {
			return address, err
		}
	}
	return jid.JID{}, ErrNoUpload
}

// keepsFiles asks an address whether it keeps files.
func (l *Link) keepsFiles(ctx context.Context, address jid.JID) (bool, error) {
	var info struct {
		Feature []struct {
			Var string `xml:"var,attr"`
		} `xml:"feature"`
	}
	err := l.ask(ctx, stanza.IQ{Type: stanza.GetIQ, To: address}, element(nsDiscoInfo, "query", nil), &info)
	if _, refused := errors.AsType[stanza.Error](err); refused {
		return false, nil
	}
	for _, f := range info.Feature {
		if f.Var == upload.NS {
			return true, err
		}
	}
	return false, err
}
