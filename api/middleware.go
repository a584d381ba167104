package api

import (
	"crypto/rand"
	"errors"
	"log/slog"
	"net/http"
	"regexp"
	"runtime/debug"

	"github.com/gin-gonic/gin"
)

// requestIDField is the header field of a request's id, both ways.
const requestIDField = "Request-Id"

// saneID is what a caller may choose as id.
var saneID = regexp.MustCompile(`^[A-Za-z0-9._-]{1,64}$`)

// identify gives each request its id: the caller's if it is sane, else a new one.
func identify(c *gin.Context) {
	id := c.GetHeader(requestIDField)
	if !saneID.MatchString(id) {
		id = rand.Text()
	}
	c.Header(requestIDField, id)
}

// requestID returns the id that identify gave.
func requestID(c *gin.Context) string { return c.Writer.Header().Get(requestIDField) }

// secure sets the header fields that every reply has, and that of the last one on a connection.
// Strict-Transport-Security isn't among them: it means nothing over plain HTTP (RFC 6797 §8.1),
// and is the word of whoever holds the certificate, in front of the service.
func (s *server) secure(c *gin.Context) {
	h := c.Writer.Header()
	if !s.ready() { // callers find another replica in time, and meet no connection that closes
		h.Set("Connection", "close")
	}
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
	h.Add("Link", `</openapi.yaml>; rel="service-desc"`)
	h.Add("Link", `</docs>; rel="service-doc"`)
}

// document sets the header fields of what a browser shows as a page of its own: what the page
// may load, that no other page shares its process or frames it, and that it asks for none of the
// reader's devices.
func document(c *gin.Context, contentPolicy string) {
	h := c.Writer.Header()
	h.Set("Content-Security-Policy", contentPolicy)
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Embedder-Policy", "require-corp")
	h.Set("Permissions-Policy", "accelerometer=(), camera=(), geolocation=(), gyroscope=(), magnetometer=(), microphone=(), payment=(), usb=()")
	h.Set("X-Frame-Options", "DENY")
}

// recover turns a panic into a problem. The stack goes to the log with the
// request's id; the caller sees a constant.
func (s *server) recover(c *gin.Context) {
	defer func() {
		v := recover()
		if v == nil {
			return
		}
		if err, ok := v.(error); ok && errors.Is(err, http.ErrAbortHandler) {
			panic(v) // net/http's own way to drop a connection
		}
		s.meter.panics.Inc()
		s.logger.Error("panic", slog.Any("value", v), slog.String("request_id", requestID(c)), slog.String("stack", string(debug.Stack())))
		if !c.Writer.Written() {
			writeProblem(c, &problem{kind: kindInternal, detail: "Something went wrong while answering; the request_id is in our log."})
		}
		c.Abort()
	}()
	c.Next()
}
