package client

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
)

// payload is a request's body.
type payload struct {
	mediaType, coding string
	// content is the body as it is sent; nil where it is read as it is sent, from file, which
	// can be read again, or from once, which can't.
	content []byte
	file    *io.SectionReader
	once    io.Reader
}

// compressFrom is the size from which a body is compressed, in bytes.
const compressFrom = 2 << 10

// headBytes is how much of a file is read before it is sent.
const headBytes = 8 << 20

// payloadOf returns the body of bytes, compressed where that is worth it.
func payloadOf(mediaType string, content []byte) (*payload, error) {
	p := &payload{mediaType: mediaType, content: content}
	if len(content) < compressFrom || isPacked(content) {
		return p, nil
	}
	var b bytes.Buffer
	w, err := gzip.NewWriterLevel(&b, gzip.BestSpeed)
	if err == nil {
		_, err = w.Write(content)
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		return nil, fmt.Errorf("client: %w", err)
	}
	if b.Len() < len(content) {
		p.coding, p.content = "gzip", b.Bytes()
	}
	return p, nil
}

// isPacked reports whether bytes are a gzip or zip file already.
func isPacked(content []byte) bool {
	return bytes.HasPrefix(content, []byte("\x1f\x8b")) || bytes.HasPrefix(content, []byte("PK"))
}

// payload returns a file as a body.
func (f File) payload() (*payload, error) {
	if f.Content == nil {
		return nil, errors.New("client: the file has no content")
	}
	rest, err := restOf(f.Content)
	if err != nil {
		return nil, fmt.Errorf("client: the file: %w", err)
	}
	if rest != nil && rest.Size() > headBytes {
		return &payload{mediaType: f.MediaType, file: rest}, nil
	}
	head, err := io.ReadAll(io.LimitReader(f.Content, headBytes+1))
	if err != nil {
		return nil, fmt.Errorf("client: the file: %w", err)
	}
	if len(head) <= headBytes {
		return payloadOf(f.MediaType, head)
	}
	return &payload{mediaType: f.MediaType, once: io.MultiReader(bytes.NewReader(head), f.Content)}, nil
}

// restOf returns what is still to be read of a reader that can be read at any place; nil for one
// that can't, as a pipe, even where its type has the methods for it.
func restOf(r io.Reader) (*io.SectionReader, error) {
	placed, ok := r.(interface {
		io.ReaderAt
		io.Seeker
	})
	if !ok {
		return nil, nil
	}
	at, err := placed.Seek(0, io.SeekCurrent)
	if err != nil {
		return nil, nil //nolint:nilerr // a pipe
	}
	end, err := placed.Seek(0, io.SeekEnd)
	if err != nil {
		return nil, nil //nolint:nilerr // nothing has been read or moved
	}
	_, err = placed.Seek(at, io.SeekStart)
	return io.NewSectionReader(placed, at, end-at), err
}

// replayable reports whether a body can be sent more than once.
func (p *payload) replayable() bool { return p == nil || p.once == nil }

// length is the body's, −1 where it isn't known.
func (p *payload) length() int64 {
	switch {
	case p.once != nil:
		return -1
	case p.file != nil:
		return p.file.Size()
	}
	return int64(len(p.content))
}

// open returns the body from its start. What was opened before may still be read: a connection
// can take its time to let go of a body.
func (p *payload) open() io.ReadCloser {
	switch {
	case p.once != nil:
		return io.NopCloser(p.once)
	case p.file != nil:
		return io.NopCloser(io.NewSectionReader(p.file, 0, p.file.Size()))
	}
	return io.NopCloser(bytes.NewReader(p.content))
}
