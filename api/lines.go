package api

import (
	"bytes"
	"encoding/json"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// linesMediaType is that of a stream of lines, each a JSON value.
const linesMediaType = "application/x-ndjson"

// receiveTimeout is how long a caller may take to receive a line, or an answer that was
// long in the making.
const receiveTimeout = 30 * time.Second

// unhurried takes the server's limit off the time that an answer takes to make: the limits
// of the request bound it. What can't set deadlines has none.
func unhurried(c *gin.Context) {
	_ = http.NewResponseController(c.Writer).SetWriteDeadline(time.Time{})
}

// receivable gives the caller time to receive what is written next.
func receivable(c *gin.Context) {
	_ = http.NewResponseController(c.Writer).SetWriteDeadline(time.Now().Add(receiveTimeout))
}

// lines writes a stream of lines as they come. It isn't safe for concurrent use.
type lines struct {
	c *gin.Context
	// started is whether the reply's header is sent.
	started bool
	// broken is whether a line couldn't be written: then nothing more is, above all no end.
	broken bool
}

// send writes a line and sends it off. A caller who doesn't receive it has left, which
// the request's context tells.
func (l *lines) send(v any) {
	body, err := json.Marshal(v)
	if err == nil {
		l.write(body)
	}
}

// sendRaw writes a line of an object with one property.
func (l *lines) sendRaw(name string, value []byte) {
	var b bytes.Buffer
	b.WriteString(`{"` + name + `":`)
	b.Write(bytes.TrimSpace(value))
	b.WriteByte('}')
	l.write(b.Bytes())
}

func (l *lines) write(body []byte) {
	if l.broken {
		return
	}
	if !l.started {
		l.started = true
		h := l.c.Writer.Header()
		h.Set("Content-Type", linesMediaType)
		h.Set("Cache-Control", "no-store")
		h.Add("Vary", "Accept")
		l.c.Status(http.StatusOK)
	}
	// Each line has its own time: a long stream isn't cut, and a caller who takes nothing
	// holds nobody up for long.
	receivable(l.c)
	if _, err := l.c.Writer.Write(append(body, '\n')); err != nil {
		l.broken = true
		return
	}
	l.c.Writer.Flush()
}

// stream answers with the lines of a computation: how far it is, as it tells, then its
// result, or the problem that it ran into, and the end. One that fails before it tells
// anything is answered with the problem alone; a caller who has left gets nothing more.
func (s *server) stream(c *gin.Context, compute func(progress func(done, of int)) (*engine.Answer, error)) {
	out, done := lines{c: c}, RunsDone{}
	a, err := compute(func(runs, of int) {
		done = RunsDone{RunsDone: runs, Runs: of}
		out.send(ScenarioLine{Progress: &done})
	})
	switch {
	case err != nil && (!out.started || c.Request.Context().Err() != nil):
		receivable(c)
		s.fail(c, err)
		return
	case err != nil:
		document := s.explain(c, err).document(requestID(c))
		out.send(ScenarioLine{Problem: &document})
	default:
		out.sendRaw("result", a.Body)
	}
	out.send(ScenarioLine{End: &done})
}
