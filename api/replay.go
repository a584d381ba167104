package api

import (
	"bytes"
	"context"
	"log/slog"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"parcours.example/service/engine"
	"parcours.example/service/jobs"
)

// kept is a reply that is kept instead of sent.
type kept struct {
	header http.Header
	status int
	body   bytes.Buffer
}

// Header implements http.ResponseWriter.
func (k *kept) Header() http.Header { return k.header }

// WriteHeader implements http.ResponseWriter.
func (k *kept) WriteHeader(status int) {
	if k.status == 0 {
		k.status = status
	}
}

// Write implements http.ResponseWriter.
func (k *kept) Write(p []byte) (int, error) {
	k.WriteHeader(http.StatusOK)
	return k.body.Write(p)
}

// replayed is what a request that is answered later brings in its context.
type replayed struct {
	call     jobs.Call
	progress func(done, of int)
}

// replayedKey is where its context keeps it.
type replayedKey struct{}

func replayedIn(ctx context.Context) (replayed, bool) {
	r, ok := ctx.Value(replayedKey{}).(replayed)
	return r, ok
}

// progressOf is what tells whoever sent a request how far its work is; nil where nobody asks.
func progressOf(ctx context.Context) func(done, of int) {
	r, _ := replayedIn(ctx)
	return r.progress
}

// takeBody is the middleware that takes a request's body from its call, instead of reading it.
func takeBody(c *gin.Context) {
	if r, ok := replayedIn(c.Request.Context()); ok {
		c.Set(bodyKey, receivedBody{r.call.Body, r.call.Sent})
	}
}

// Waits before a job is tried again for which there was no memory.
const replayAfter = 2 * time.Second

// answerLater is the work of jobs: it answers a call as the call itself is answered, but for the
// workers, which it leaves to others first. It fails with the context's error alone.
func (s *server) answerLater(ctx context.Context, call jobs.Call, progress func(done, of int)) (jobs.Answer, error) {
	start := time.Now()
	for {
		reply, err := s.replay(ctx, call, progress)
		if err != nil {
			return jobs.Answer{}, err
		}
		if reply.status != http.StatusServiceUnavailable {
			s.logger.LogAttrs(ctx, requestLevel(call.Path, reply.status), "job",
				slog.String("route", call.Path), slog.Int("status", reply.status), slog.Int("bytes", reply.body.Len()),
				slog.Float64("ms", float64(time.Since(start).Microseconds())/1000), slog.String("request_id", call.RequestID))
			return jobs.Answer{Failed: reply.status != http.StatusOK, Body: bytes.TrimSpace(reply.body.Bytes())}, nil
		}
		select {
		case <-ctx.Done():
			return jobs.Answer{}, ctx.Err()
		case <-time.After(replayAfter):
		}
	}
}

// replay answers a call once.
func (s *server) replay(ctx context.Context, call jobs.Call, progress func(done, of int)) (*kept, error) {
	ctx = context.WithValue(engine.Patiently(ctx), replayedKey{}, replayed{call, progress})
	target := call.Path
	if call.Query != "" {
		target += "?" + call.Query
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, target, http.NoBody)
	if err != nil {
		return nil, err
	}
	r.ContentLength = int64(len(call.Body))
	for field, value := range map[string]string{"Accept": call.Accept, "Content-Type": call.MediaType, requestIDField: call.RequestID} {
		if value != "" {
			r.Header.Set(field, value)
		}
	}
	reply := &kept{header: http.Header{}}
	s.replays.ServeHTTP(reply, r)
	return reply, ctx.Err()
}
