package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"parcours.example/analysis"
	"parcours.example/service/engine"
	"parcours.example/service/span"
)

// result is a computed answer on its way to the caller.
type result struct {
	mediaType string
	// filename is what to call the body where it is kept, "" for no name.
	filename string
	body     []byte
	// key names everything that the body depends on beside the engine's version.
	key string
}

// jsonResult encodes v.
func jsonResult(ctx context.Context, v any, key string) (result, error) {
	_, encoding := span.Start(ctx, "encode")
	defer encoding.End()
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return result{}, err
	}
	return result{mediaType: jsonMediaType, body: b.Bytes(), key: key}, nil
}

// held is how long a caller may use a result without asking again: a result never changes
// while the engine's version doesn't.
const held = "private, max-age=3600"

// replyFresh sends what changes with the program: the caller asks each time whether what it
// holds still is what is served.
func (s *server) replyFresh(c *gin.Context, r result) { s.replyHeld(c, r, "no-cache") }

// reply sends a text that never changes with its entity tag, compressed where the caller takes it.
func (s *server) reply(c *gin.Context, r result) { s.replyHeld(c, r, held) }

func (s *server) replyHeld(c *gin.Context, r result, cacheControl string) {
	coding := codingOf(c, r.mediaType, len(r.body))
	tag := entityTag(answerID(r.key, r.mediaType), coding)
	if replyHeader(c, tag, cacheControl) {
		return
	}
	body, err := s.fixed.in(coding, tag, r.body)
	if err != nil { // writing to memory doesn't fail
		writeProblem(c, &problem{kind: kindInternal, detail: "The answer couldn't be compressed."})
		return
	}
	replyBody(c, r.mediaType, coding, body)
}

// codingOf is the coding in which a caller gets a body; "" for none.
func codingOf(c *gin.Context, mediaType string, size int) string {
	if size < minCompressed || mediaType == pngMediaType { // a PNG is compressed already
		return ""
	}
	return negotiateCoding(c.GetHeader("Accept-Encoding"))
}

// replyHeader sets the header of a reply. It answers a GET whose tag the caller holds with 304,
// and reports whether it has.
func replyHeader(c *gin.Context, tag, cacheControl string) (answered bool) {
	h := c.Writer.Header()
	h.Set("ETag", tag)
	h.Add("Vary", "Accept, Accept-Encoding") // beside what another origin may add
	h.Set("Cache-Control", cacheControl)
	if c.Request.Method != http.MethodGet || !tagMatches(c.GetHeader("If-None-Match"), tag) {
		return false
	}
	c.Status(http.StatusNotModified)
	c.Writer.WriteHeaderNow()
	return true
}

// replyBody sends a body that is in a coding.
func replyBody(c *gin.Context, mediaType, coding string, body []byte) {
	h := c.Writer.Header()
	if coding != "" {
		h.Set("Content-Encoding", coding)
	}
	h.Set("Content-Length", strconv.Itoa(len(body)))
	engine.Finish(c.Request.Context())
	defer step(c, "write")()
	c.Data(http.StatusOK, mediaType, body)
}

// answerID names the bytes of an answer: a digest of all that they depend on.
func answerID(key, mediaType string) string {
	digest := sha256.Sum256([]byte(strings.Join([]string{analysis.EngineVersion, key, mediaType}, "\x00")))
	return hex.EncodeToString(digest[:16])
}

// entityTag is the strong tag of an answer in a coding.
func entityTag(answerID, coding string) string {
	if coding != "" {
		answerID += "-" + coding
	}
	return `"` + answerID + `"`
}

// tagMatches reports whether an If-None-Match field names the tag (weak
// comparison, RFC 9110 §13.1.2).
func tagMatches(field, tag string) bool {
	for _, held := range strings.Split(field, ",") {
		held = strings.TrimPrefix(strings.TrimSpace(held), "W/")
		if held == "*" || held == tag {
			return true
		}
	}
	return false
}

// accepted picks from the media types that a call can answer with, the preferred
// first, the one that Accept weighs highest; "" for none.
func accepted(field string, offered ...string) string {
	if strings.TrimSpace(field) == "" {
		return offered[0]
	}
	weights := weightedList(field)
	best, bestWeight := "", 0.0
	for _, offer := range offered {
		family, _, _ := strings.Cut(offer, "/")
		for _, pattern := range []string{offer, family + "/*", "*/*"} { // the most specific counts
			if w, named := weights[pattern]; named {
				if w > bestWeight {
					best, bestWeight = offer, w
				}
				break
			}
		}
	}
	return best
}

// notAcceptable is the problem of an Accept field that none of the offers fits.
func notAcceptable(offered ...string) *problem {
	return &problem{kind: kindNotAcceptable, detail: "This call answers " + strings.Join(offered, ", ") + "."}
}

// digestKey names bytes in a result's key.
func digestKey(b []byte) string {
	digest := sha256.Sum256(b)
	return hex.EncodeToString(digest[:16])
}
