package api

import (
	"bytes"
	"errors"
	"io"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"parcours.example/service/engine"
)

// Size limits of a request. The contract's x-limits say them.
const (
	maxBodyBytes    = 32 << 20
	maxDecodedBytes = 160 << 20
)

// acceptedCodings are the codings of bodies, both ways, the preferred first.
const acceptedCodings = "zstd, gzip"

// bodyKey is where readBody leaves the decoded body in the context.
const bodyKey = "parcours.body"

// readBody is the middleware that reads a request's body whole, within the limits
// and the engine's memory for bodies, and undoes its coding.
func (s *server) readBody(c *gin.Context) {
	if c.Request.Body == nil || c.Request.Method == http.MethodGet || c.Request.Method == http.MethodHead {
		return
	}
	claim := s.engine.Claim()
	defer claim.Release()
	raw, err := io.ReadAll(claim.Reader(http.MaxBytesReader(c.Writer, c.Request.Body, maxBodyBytes)))
	if err != nil {
		writeProblem(c, bodyProblem(err, maxBodyBytes))
		return
	}
	body, p := decodeBody(claim, raw, c.Request.Header.Values("Content-Encoding"))
	if p != nil {
		writeProblem(c, p)
		return
	}
	c.Request.Header.Del("Content-Encoding")
	c.Request.ContentLength = int64(len(body))
	c.Set(bodyKey, body)
	c.Next()
}

// requestBody returns what readBody left.
func requestBody(c *gin.Context) []byte {
	body, _ := c.Get(bodyKey)
	b, _ := body.([]byte)
	return b
}

// decodeBody undoes the codings of a body, the last applied first.
func decodeBody(claim *engine.Claim, body []byte, fields []string) ([]byte, *problem) {
	codings := strings.FieldsFunc(strings.ToLower(strings.Join(fields, ",")), func(r rune) bool { return r == ',' || r == ' ' || r == '\t' })
	if len(codings) > 2 {
		return nil, unsupportedCoding("more than two codings")
	}
	for i := len(codings) - 1; i >= 0; i-- {
		var err error
		switch codings[i] {
		case "identity":
		case "gzip", "x-gzip":
			body, err = gunzip(claim, body)
		case "zstd":
			body, err = unzstd(claim, body)
		default:
			return nil, unsupportedCoding(codings[i])
		}
		if err != nil {
			return nil, bodyProblem(err, maxDecodedBytes)
		}
	}
	return body, nil
}

// errDecodedTooLarge says that a body passed its limit while being decoded.
var errDecodedTooLarge = errors.New("decoded body too large")

// gunzip decodes gzip up to the limit.
func gunzip(claim *engine.Claim, body []byte) ([]byte, error) {
	r, err := gzip.NewReader(bytes.NewReader(body))
	if err != nil {
		return nil, err
	}
	return readDecoded(claim.Reader(r))
}

// unzstd decodes zstd up to the limit.
func unzstd(claim *engine.Claim, body []byte) ([]byte, error) {
	r, err := zstd.NewReader(bytes.NewReader(body), zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(maxDecodedBytes), zstd.WithDecoderMaxWindow(64<<20))
	if err != nil {
		return nil, err
	}
	defer r.Close()
	return readDecoded(claim.Reader(r))
}

// readDecoded reads a decoder to its end or to just past the limit.
func readDecoded(r io.Reader) ([]byte, error) {
	out, err := io.ReadAll(io.LimitReader(r, maxDecodedBytes+1))
	if err == nil && len(out) > maxDecodedBytes || errors.Is(err, zstd.ErrDecoderSizeExceeded) {
		return nil, errDecodedTooLarge
	}
	return out, err
}

// bodyProblem says why a body couldn't be read.
func bodyProblem(err error, limit float64) *problem {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) || errors.Is(err, errDecodedTooLarge) {
		return &problem{kind: kindTooLarge, limit: &limit, detail: "The body is larger than " + strconv.FormatFloat(limit, 'f', -1, 64) + " bytes."}
	}
	if busy, ok := errors.AsType[*engine.BusyError](err); ok {
		return problemOf(busy)
	}
	return &problem{kind: kindMalformedRequest, detail: "The body can't be read: its transfer or its coding is damaged."}
}

// unsupportedCoding is the problem of an unknown coding.
func unsupportedCoding(coding string) *problem {
	return &problem{kind: kindUnsupportedCoding, detail: "The coding “" + clip(coding) + "” isn't known here.", header: map[string]string{"Accept-Encoding": acceptedCodings}}
}

// minCompressed is the size from which a reply is compressed, in bytes.
const minCompressed = 1024

// negotiateCoding picks a reply's coding from Accept-Encoding: the one with the
// highest weight, zstd before gzip, "" for none.
func negotiateCoding(header string) string {
	weights := weightedList(header)
	best, bestWeight := "", 0.0
	for _, coding := range []string{"zstd", "gzip"} {
		w, named := weights[coding]
		if !named {
			w = weights["*"]
		}
		if w > bestWeight {
			best, bestWeight = coding, w
		}
	}
	return best
}

// weightedList parses an Accept-like field into lower-case items with their
// weights. Items with a broken weight count as 1.
func weightedList(header string) map[string]float64 {
	weights := map[string]float64{}
	for _, item := range strings.Split(header, ",") {
		name, parameters, _ := strings.Cut(item, ";")
		name = strings.ToLower(strings.TrimSpace(name))
		if name == "" {
			continue
		}
		weights[name] = weightOf(parameters)
	}
	return weights
}

// weightOf returns the weight among an item's parameters.
func weightOf(parameters string) float64 {
	for _, p := range strings.Split(parameters, ";") {
		key, value, _ := strings.Cut(strings.TrimSpace(p), "=")
		if strings.EqualFold(strings.TrimSpace(key), "q") {
			if q, err := strconv.ParseFloat(strings.TrimSpace(value), 64); err == nil && q >= 0 && q <= 1 {
				return q
			}
		}
	}
	return 1
}

// compress encodes a reply's body.
func compress(coding string, body []byte) ([]byte, error) {
	var out bytes.Buffer
	var w io.WriteCloser
	var err error
	switch coding {
	case "zstd":
		w, err = zstd.NewWriter(&out, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(1))
	case "gzip":
		w, err = gzip.NewWriterLevel(&out, gzip.BestSpeed)
	default:
		return body, nil
	}
	if err != nil {
		return nil, err
	}
	if _, err = w.Write(body); err != nil {
		return nil, err
	}
	err = w.Close()
	return out.Bytes(), err
}
