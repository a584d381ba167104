package api

import (
	"bytes"
	"encoding/json"
	"net/http"

	"github.com/gin-gonic/gin"

	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// linesMediaType is that of a stream of lines, each a JSON value.
const linesMediaType = "application/x-ndjson"

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
	a, err := told(&out, &done, func(progress func(done, of int)) (*engine.Answer, error) {
		defer engine.Finish(c.Request.Context()) // what there is still to tell may be taken slowly
		return compute(progress)
	})
	switch {
	case err != nil && (!out.started || c.Request.Context().Err() != nil):
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

// told computes and writes how far the computation is beside it, so that a caller who takes
// nothing doesn't hold up the work: what there is no time to tell is left out, but for the last,
// which done has then.
func told(out *lines, done *RunsDone, compute func(progress func(done, of int)) (*engine.Answer, error)) (*engine.Answer, error) {
	news, ended := make(chan RunsDone, 1), make(chan bool) // news holds the latest that isn't told yet
	go func() {
		defer close(ended)
		for *done = range news {
			out.send(ScenarioLine{Progress: done})
		}
	}()
	defer func() {
		close(news)
		<-ended
	}()
	return compute(func(runs, of int) { // called by one goroutine at a time
		select {
		case <-news: // older
		default:
		}
		news <- RunsDone{RunsDone: runs, Runs: of}
	})
}
