package api

import (
	"context"
	"errors"
	"net/http"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/gin-gonic/gin"

	"parcours.example/service/engine"
	"parcours.example/service/jobs"
)

// laterCalls says of the calls that can be answered later, by their routes, whether they may
// leave this process meanwhile: what holds somebody's recorded ride mustn't.
type laterCalls map[string]bool

// laterCallsOf lists the calls that the contract says can be accepted.
func laterCallsOf(doc *openapi3.T) laterCalls {
	calls := laterCalls{}
	for path, item := range doc.Paths.Map() {
		if item.Post != nil && item.Post.Responses.Status(http.StatusAccepted) != nil {
			recording, _ := item.Post.Extensions["x-recording"].(bool)
			calls[routeOf(path)] = !recording
		}
	}
	return calls
}

// asksLater reports whether a request is to be answered later, and can be: RFC 7240 leaves a
// preference to whoever answers, and what can't be kept is answered at once.
func (s *server) asksLater(c *gin.Context) bool {
	far, can := s.laterCalls[c.FullPath()]
	if !can || s.jobs == nil || len(requestBody(c)) > jobs.MostBodyBytes {
		return false
	}
	if s.jobs.Near() && !s.ready() || !s.jobs.Near() && !far { // it would be lost, or leave the process
		return false
	}
	_, asks := preferences(c.Request.Header.Values(preferField))[preferLater]
	return asks
}

// later accepts a request that asks to be answered later, once what is wrong with it has been
// looked for: rehearse is its work. It reports whether it has replied.
func (s *server) later(c *gin.Context, rehearse func(context.Context) error) bool {
	if !s.asksLater(c) {
		return false
	}
	ctx := c.Request.Context()
	if err := rehearse(engine.Rehearse(ctx)); err != nil && !errors.Is(err, engine.ErrRehearsed) {
		s.fail(c, err)
		return true
	}
	job, err := s.jobs.Submit(ctx, keptCall(c))
	if err != nil {
		s.fail(c, err)
		return true
	}
	c.Header("Location", jobsRoute+job.ID)
	c.Header(appliedField, preferLater)
	s.replyJob(c, http.StatusAccepted, job)
	return true
}

// keptCall is a request as it is answered later.
func keptCall(c *gin.Context) jobs.Call {
	body := received(c)
	return jobs.Call{
		Client: c.GetString(clientKey), Path: c.Request.URL.EscapedPath(), Query: c.Request.URL.RawQuery,
		Accept: acceptField(c), MediaType: c.GetHeader("Content-Type"), RequestID: requestID(c),
		Body: body.content, Sent: body.sent,
	}
}
