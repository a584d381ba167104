package cache

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"sync"

	"github.com/klauspost/compress/zstd"
)

// A sealed value is a byte for the form, a digest of the key and of what follows, and the
// value compressed with zstd.
const (
	sealForm    = 1
	digestBytes = 16
)

// errForeign says that bytes under a key are not what was sealed for it.
var errForeign = errors.New("cache: the value isn't what was written under its key")

// codec is what compresses and decompresses. It has no state between values and is made the
// first time that it is used: making one takes fifty times as long as using it.
var codec = sync.OnceValues(func() (*zstd.Encoder, *zstd.Decoder) {
	e, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedFastest))
	if err != nil {
		panic("cache: " + err.Error()) // the options are constants
	}
	d, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(0), zstd.WithDecoderMaxMemory(mostOpenedBytes))
	if err != nil {
		panic("cache: " + err.Error()) // the options are constants
	}
	return e, d
})

// Seal compresses a value and binds it to its key.
func Seal(key string, value []byte) []byte {
	e, _ := codec()
	sealed := e.EncodeAll(value, make([]byte, 1+digestBytes, 1+digestBytes+len(value)/2))
	sealed[0] = sealForm
	copy(sealed[1:], sealDigest(key, sealed[1+digestBytes:]))
	return sealed
}

// Unseal undoes Seal. It fails on anything else, before it decompresses, and on a value of more
// than 64 MiB.
func Unseal(key string, sealed []byte) ([]byte, error) {
	if len(sealed) <= 1+digestBytes || sealed[0] != sealForm ||
		!bytes.Equal(sealed[1:1+digestBytes], sealDigest(key, sealed[1+digestBytes:])) {
		return nil, errForeign
	}
	_, d := codec()
	value, err := d.DecodeAll(sealed[1+digestBytes:], nil)
	if err != nil {
		return nil, errForeign
	}
	return value, nil
}

func sealDigest(key string, compressed []byte) []byte {
	h := sha256.New()
	h.Write([]byte(key))
	h.Write([]byte{0})
	h.Write(compressed)
	return h.Sum(nil)[:digestBytes]
}
