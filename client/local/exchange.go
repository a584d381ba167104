package local

import (
	"context"
	"errors"
	"io"
	"net/http"
	"sync"
)

// RoundTrip implements http.RoundTripper: the reply comes with its header, and its body as it
// is written. As over a wire, closing the body before its end ends the work.
func (s *Service) RoundTrip(r *http.Request) (*http.Response, error) {
	ctx, leave := context.WithCancel(r.Context())
	e := newExchange(r, leave)
	context.AfterFunc(ctx, func() { e.end(ctx.Err()) })
	go e.serve(s.handler, received(ctx, r))
	select {
	case <-e.begun:
		return e.reply, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// received is a request as a server gets one.
func received(ctx context.Context, r *http.Request) *http.Request {
	in := r.Clone(ctx)
	in.RequestURI, in.RemoteAddr = r.URL.RequestURI(), "127.0.0.1:0"
	if in.Host == "" {
		in.Host = r.URL.Host
	}
	if in.Body == nil {
		in.Body = http.NoBody
	}
	in.GetBody = nil // a server has none, and who asks for it gets the body before its codings are undone
	return in
}

// exchange is a request that is being answered: an http.ResponseWriter whose body is the
// reply's.
type exchange struct {
	header http.Header
	reply  *http.Response
	// begun is closed once the reply has its header.
	begun chan struct{}
	once  sync.Once
	to    *io.PipeWriter
	body  *io.PipeReader
	leave context.CancelFunc
}

func newExchange(r *http.Request, leave context.CancelFunc) *exchange {
	e := &exchange{header: http.Header{}, begun: make(chan struct{}), leave: leave}
	e.body, e.to = io.Pipe()
	e.reply = &http.Response{Proto: "HTTP/1.1", ProtoMajor: 1, ProtoMinor: 1, Request: r, Body: e, ContentLength: -1}
	return e
}

// serve answers the request, and ends what it came with.
func (e *exchange) serve(handler http.Handler, in *http.Request) {
	defer func() {
		_ = in.Body.Close() // nobody waits for its rest
		var err error
		if recover() != nil { // http.ErrAbortHandler, or a fault that the handler has logged
			err = errAborted
		}
		e.WriteHeader(http.StatusOK)
		e.end(err)
		e.leave()
	}()
	handler.ServeHTTP(e, in)
}

// errAborted says that the service ended a reply before its end.
var errAborted = errors.New("local: the reply was broken off")

// end ends the reply, with an error where it isn't whole. Only the first counts.
func (e *exchange) end(err error) { _ = e.to.CloseWithError(err) } // never fails

// Header implements http.ResponseWriter.
func (e *exchange) Header() http.Header { return e.header }

// WriteHeader implements http.ResponseWriter. Only the first counts, and none that only
// informs.
func (e *exchange) WriteHeader(status int) {
	if status < http.StatusOK {
		return
	}
	e.once.Do(func() {
		e.reply.StatusCode, e.reply.Status, e.reply.Header = status, http.StatusText(status), e.header.Clone()
		close(e.begun)
	})
}

// Write implements io.Writer. It waits until what is written has been read.
func (e *exchange) Write(p []byte) (int, error) {
	e.WriteHeader(http.StatusOK)
	return e.to.Write(p)
}

// Flush implements http.Flusher. The header goes out; what is written is read already.
func (e *exchange) Flush() { e.WriteHeader(http.StatusOK) }

// EnableFullDuplex lets http.ResponseController find that a reply may begin before its request
// has been read.
func (e *exchange) EnableFullDuplex() error { return nil }

// Read implements io.Reader for the one who asked.
func (e *exchange) Read(p []byte) (int, error) { return e.body.Read(p) }

// Close implements io.Closer for the one who asked: who has read enough leaves.
func (e *exchange) Close() error {
	e.leave()
	return e.body.Close()
}
