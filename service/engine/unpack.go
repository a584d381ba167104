package engine

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/klauspost/compress/gzip"

	"parcours.example/analysis/track"
)

// gzipHead is what gzip data start with: its signature and the one method that
// there is (RFC 1952, 2.3).
var gzipHead = []byte{0x1f, 0x8b, 8}

// unpacked returns a file's content as the readers take it: if it is compressed
// with gzip (RFC 1952; several members one after the other as well), decompressed on
// a worker, up to the limits. Bytes that are compressed twice stay so, and are of no
// format.
func (e *Engine) unpacked(ctx context.Context, claim *Claim, file *File) ([]byte, error) {
	if !bytes.HasPrefix(file.Content, gzipHead) {
		return file.Content, nil
	}
	large := len(file.Content) > largeBytes || statedBytes(file.Content) > largeBytes
	return admitted(ctx, e.admit, 0, large, func(context.Context) ([]byte, error) {
		packed := e.Sent(bytes.NewReader(file.Content))
		if file.SentBytes > 0 {
			packed.sent = file.SentBytes
		}
		return gunzip(claim, packed)
	})
}

// statedBytes is how long the last member says that it is, modulo 2³² bytes.
func statedBytes(content []byte) uint32 {
	const trailer = 4
	if len(content) < trailer {
		return 0
	}
	return binary.LittleEndian.Uint32(content[len(content)-trailer:])
}

// gunzip decompresses a file.
func gunzip(claim *Claim, packed *Layer) ([]byte, error) {
	out, err := readGzip(claim, packed)
	var (
		busy  *BusyError
		large *Error
	)
	switch {
	case errors.As(err, &busy):
		return nil, busy
	case errors.As(err, &large):
		return nil, large
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return nil, &track.Error{Code: track.CodeMalformed, Detail: "The gzip-compressed file breaks off; compress it or send it again."}
	case err != nil:
		return nil, &track.Error{Code: track.CodeMalformed, Detail: "The gzip-compressed file is damaged (" + err.Error() + "); compress it or send it again."}
	}
	return out, nil
}

func readGzip(claim *Claim, packed *Layer) ([]byte, error) {
	r, err := gzip.NewReader(packed)
	if err != nil {
		return nil, err
	}
	return io.ReadAll(claim.Reader(packed.Decoded(r)))
}

// Layer is data on their way to be unpacked: as they were sent, or as a decoder makes them of
// the layer below. It bounds what decoders make of the data and how much they take to make
// next to nothing of it. It is for one goroutine.
type Layer struct {
	from         io.Reader
	limits       track.Limits
	below, above *Layer
	// bytes counts those read so far. sent is as how many all of them came, where they were
	// packed once more on their way.
	bytes, sent int
}

// Sent starts to read data as they were sent.
func (e *Engine) Sent(from io.Reader) *Layer {
	return &Layer{from: from, limits: e.limits.Track, sent: math.MaxInt}
}

// SentSeason is Sent for what holds many files: the bytes of all of them are bounded by
// Limits.SeasonBytes.
func (e *Engine) SentSeason(from io.Reader) *Layer {
	l := e.Sent(from)
	l.limits.Bytes = e.limits.SeasonBytes
	return l
}

// Decoded returns the layer that a decoder makes of l, which it reads.
func (l *Layer) Decoded(decoder io.Reader) *Layer {
	l.above = &Layer{from: decoder, limits: l.limits, below: l, sent: math.MaxInt}
	return l.above
}

// Bytes returns how many bytes were read so far.
func (l *Layer) Bytes() int { return l.bytes }

// layerStep is how many bytes are read before the limits are looked at again.
const layerStep = 64 << 10

// Read implements io.Reader. Beyond the limits it fails with an *Error of CodeTooLarge.
func (l *Layer) Read(p []byte) (int, error) {
	n, err := l.from.Read(p[:min(len(p), layerStep)])
	l.bytes += n
	switch {
	case l.below != nil && l.bytes > l.limits.Bytes:
		return 0, tooLarge(l.limits.Bytes, "This unpacks to more than %d bytes; thin the file out, one point every few metres is enough.", l.limits.Bytes)
	case l.below != nil && l.bytes > l.limits.Unpacked(l.below.least()):
		return 0, tooLarge(track.PlentifulBytes, "This unpacks to more than %d bytes and to more than %d times its own size, which no file of a course does; send it without compression.",
			track.PlentifulBytes, track.MostPacked)
	case l.above != nil && l.bytes > l.above.bytes+track.PlentifulBytes:
		return 0, tooLarge(track.PlentifulBytes, "This holds more than %d bytes that unpack to nothing; compress it again, or send it without compression.", track.PlentifulBytes)
	}
	return n, err
}

// least returns the size of the smallest of this layer and those below, as far as they were
// read: what is packed twice is held against what was sent.
func (l *Layer) least() int {
	n := min(l.bytes, l.sent)
	if l.below != nil {
		n = min(n, l.below.least())
	}
	return n
}

// tooLarge is the error of data that are packed beyond a limit in bytes.
func tooLarge(limit int, detail string, a ...any) *Error {
	return &Error{Code: CodeTooLarge, Limit: float64(limit), Detail: fmt.Sprintf(detail, a...)}
}
