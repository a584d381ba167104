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

// acceptedCodings are the codings of bodies, both ways, the preferred first.
const acceptedCodings = "zstd, gzip"

// bodyKey is where readBody leaves the body in the context.
const bodyKey = "parcours.body"

// receivedBody is a body that was read, decoded, and as how many bytes it was sent.
type receivedBody struct {
	content []byte
	sent    int
}

// readBody is the middleware that reads a request's body whole and undoes its codings as it
// comes, within the limits and the engine's memory for bodies.
func (s *server) readBody(c *gin.Context) {
	if c.Request.Body == nil || c.Request.Method == http.MethodGet || c.Request.Method == http.MethodHead || streamsBody(c) {
		return
	}
	size := c.Request.ContentLength
	if size > engine.MostBodyBytes { // nothing of it needs to be read
		writeProblem(c, bodyTooLarge())
		return
	}
	if size < 0 || size > atOnce {
		if err := s.engine.Refused(c.Request.Context(), max(size, atOnce)); err != nil {
			s.fail(c, err)
			return
		}
	}
	claim := s.engine.Claim()
	defer claim.Release()
	sent := s.engine.Sent(http.MaxBytesReader(c.Writer, c.Request.Body, engine.MostBodyBytes))
	end := step(c, "read body")
	content, err := readDecoded(claim, sent, c.Request.Header.Values("Content-Encoding"))
	end()
	if err != nil {
		if errors.Is(err, errBrokenOff) {
			c.Set(goneKey, true) // but may have closed one direction only, and read on
		}
		writeProblem(c, bodyProblem(err))
		return
	}
	c.Request.Header.Del("Content-Encoding")
	c.Request.ContentLength = int64(len(content))
	c.Set(bodyKey, receivedBody{content, sent.Bytes()})
	c.Next()
}

// requestBody returns the body that readBody left.
func requestBody(c *gin.Context) []byte { return received(c).content }

// received returns what readBody left.
func received(c *gin.Context) receivedBody {
	body, _ := c.Get(bodyKey)
	b, _ := body.(receivedBody)
	return b
}

// readDecoded reads a body through the decoders of its codings.
func readDecoded(claim *engine.Claim, sent *engine.Layer, fields []string) ([]byte, error) {
	body, leave, err := decodedBody(sent, fields)
	if err != nil {
		return nil, err
	}
	defer leave()
	return io.ReadAll(claim.Reader(body))
}

// decodedBody undoes the codings of a body as it is read, the last applied first. It is to be
// left once it is no longer read.
func decodedBody(sent *engine.Layer, fields []string) (body *engine.Layer, leave func(), err error) {
	codings := strings.FieldsFunc(strings.ToLower(strings.Join(fields, ",")), func(r rune) bool { return r == ',' || r == ' ' || r == '\t' })
	if len(codings) > engine.MostCodings {
		return nil, nil, unsupportedCoding("more than two codings")
	}
	var leaves []func()
	leave = func() {
		for _, l := range leaves {
			l()
		}
	}
	body = sent
	for i := len(codings) - 1; i >= 0; i-- {
		if codings[i] == "identity" {
			continue
		}
		decoder, left, err := decoderOf(codings[i], body)
		if err != nil {
			leave()
			return nil, nil, err
		}
		leaves = append(leaves, left)
		body = body.Decoded(decoder)
	}
	return body, leave, nil
}

// decoderOf undoes a coding other than identity. The decoder is to be left once it is no
// longer read.
func decoderOf(coding string, body io.Reader) (decoder io.Reader, leave func(), err error) {
	switch coding {
	case "gzip", "x-gzip":
		decoder, err = gzip.NewReader(body)
		return decoder, func() {}, err
	case "zstd":
		z, err := zstd.NewReader(body, zstd.WithDecoderConcurrency(1), zstd.WithDecoderLowmem(true), zstd.WithDecoderMaxWindow(engine.MostWindowBytes))
		if err != nil {
			return nil, nil, err
		}
		return z, z.Close, nil
	}
	return nil, nil, unsupportedCoding(coding)
}

// bodyTooLarge is the problem of a body that is larger as it is sent.
func bodyTooLarge() *problem {
	limit := float64(engine.MostBodyBytes)
	return &problem{kind: kindTooLarge, limit: &limit, detail: "The body is larger than " + strconv.Itoa(engine.MostBodyBytes) + " bytes."}
}

// bodyProblem says why a body couldn't be read.
func bodyProblem(err error) *problem {
	var (
		tooLarge *http.MaxBytesError
		unpacked *engine.Error
		busy     *engine.BusyError
		own      *problem
		slow     *slowError
	)
	switch {
	case errors.As(err, &slow):
		return &problem{kind: kindTooSlow, detail: slow.Error()}
	case errors.As(err, &tooLarge):
		return bodyTooLarge()
	case errors.Is(err, zstd.ErrWindowSizeExceeded):
		limit := float64(engine.MostWindowBytes)
		return &problem{kind: kindTooLarge, limit: &limit, detail: "The body's zstd coding has a window of more than " + strconv.Itoa(engine.MostWindowBytes) + " bytes, the most in HTTP; compress it at a lower level."}
	case errors.Is(err, zstd.ErrDecoderSizeExceeded): // a frame says so itself
		limit := float64(engine.DefaultLimits().Track.Bytes)
		return &problem{kind: kindTooLarge, limit: &limit, detail: "The body decodes to more than " + strconv.FormatFloat(limit, 'f', -1, 64) + " bytes."}
	case errors.As(err, &own), errors.As(err, &unpacked), errors.As(err, &busy):
		return problemOf(err)
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
