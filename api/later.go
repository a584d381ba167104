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

// laterCallsOf says, by their routes, which calls the contract says can be accepted. What holds
// somebody's recorded ride isn't among them: it must not leave the process.
func laterCallsOf(doc *openapi3.T) map[string]bool {
	calls := map[string]bool{}
	for path, item := range doc.Paths.Map() {
		calls[routeOf(path)] = item.Post != nil && item.Post.Responses.Status(http.StatusAccepted) != nil
	}
	return calls
}

// asksLater reports whether a request is to be answered later, and can be: RFC 7240 leaves a
// preference to whoever answers, and what can't be kept is answered at once.
func (s *server) asksLater(c *gin.Context) bool {
	if !s.laterCalls[c.FullPath()] || s.jobs == nil || len(requestBody(c)) > jobs.MostBodyBytes {
		return false
	}
	if s.jobs.Near() && !s.ready() { // it would be lost
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
