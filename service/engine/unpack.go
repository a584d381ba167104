package engine

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"github.com/klauspost/compress/gzip"

	"parcours.example/analysis/track"
)

// gzipHead is what gzip data start with: its signature and the one method that
// there is (RFC 1952, 2.3).
var gzipHead = []byte{0x1f, 0x8b, 8}

// unpacked returns a file's content as the readers take it: if it is compressed
// with gzip (RFC 1952; several members one after the other as well), decompressed on
// a worker, up to the limit. Bytes that are compressed twice stay so, and are of no
// format.
func (e *Engine) unpacked(ctx context.Context, claim *Claim, content []byte) ([]byte, error) {
	if !bytes.HasPrefix(content, gzipHead) {
		return content, nil
	}
	large := len(content) > largeBytes || statedBytes(content) > largeBytes
	return admitted(ctx, e.admit, large, func(ctx context.Context) ([]byte, error) {
		return gunzip(claim, content, e.limits.Track.Bytes)
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

// gunzip decompresses content up to a limit in bytes.
func gunzip(claim *Claim, content []byte, limit int) ([]byte, error) {
	out, err := readGzip(claim, content, limit)
	var busy *BusyError
	switch {
	case errors.As(err, &busy):
		return nil, busy
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return nil, &track.Error{Code: track.CodeMalformed, Detail: "The gzip-compressed file breaks off; compress it or send it again."}
	case err != nil:
		return nil, &track.Error{Code: track.CodeMalformed, Detail: "The gzip-compressed file is damaged (" + err.Error() + "); compress it or send it again."}
	case len(out) > limit:
		return nil, &Error{
			Code: CodeTooLarge, Limit: float64(limit),
			Detail: fmt.Sprintf("The file unpacks to more than %d bytes; thin it out, one point every few metres is enough.", limit),
		}
	}
	return out, nil
}

// readGzip decompresses content up to one byte more than the limit.
func readGzip(claim *Claim, content []byte, limit int) ([]byte, error) {
	r, err := gzip.NewReader(bytes.NewReader(content))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(io.LimitReader(claim.Reader(r), int64(limit)+1))
}
