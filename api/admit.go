package api

import (
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"parcours.example/service/engine"
)

// atOnce is the size in bytes up to which a body is read before it is known whether its
// request is let in: that takes less than a refusal is worth, and what was answered before is
// answered again whatever else is under way.
const atOnce = 64 << 10

// workRoutes is what the routes of calls begin with that are work. The others, health and
// metrics among them, never wait.
const workRoutes = "/v1/"

// admit is the middleware that lets a request's work begin: from judging its body to
// compressing its answer it holds a worker, but not while its answer is sent.
func (s *server) admit(c *gin.Context) {
	if !isWork(c) || streamsBody(c) {
		return
	}
	if s.followsOthers(c) {
		caller := c.Request.Context()
		answered, followed := s.awaitSame(c)
		if followed {
			return
		}
		defer func() { answered(caller.Err() != nil) }()
	}
	ctx, err := s.engine.Begin(c.Request.Context(), len(requestBody(c)))
	if err != nil {
		s.fail(c, err)
		return
	}
	defer engine.Finish(ctx)
	c.Request = c.Request.WithContext(ctx)
	c.Next()
}

// isWork reports whether a request is a call that is work.
func isWork(c *gin.Context) bool {
	return strings.HasPrefix(c.FullPath(), workRoutes) && !strings.HasPrefix(c.FullPath(), jobsRoute)
}

// followsOthers reports whether a request waits for the same one of somebody else: not for
// streams and seasons, which aren't kept as a whole, nor where either is answered later.
func (s *server) followsOthers(c *gin.Context) bool {
	_, late := replayedIn(c.Request.Context())
	return !late && c.FullPath() != seasonsRoute && !slices.Contains(strings.Split(c.GetHeader("Accept"), ","), linesMediaType) && !s.asksLater(c)
}

// awaitSame waits while the same request is being answered to somebody else, and answers this
// one alike; it reports whether it has. Else answered must be called once this one is answered.
func (s *server) awaitSame(c *gin.Context) (answered func(left bool), followed bool) {
	key := c.GetString(requestKeyName)
	answered, err := s.engine.AwaitSame(c.Request.Context(), key)
	if err != nil {
		s.fail(c, err)
		return nil, true
	}
	if answered != nil {
		return answered, false
	}
	if a, ok := s.engine.Recall(c.Request.Context(), key); ok {
		s.replyAnswer(c, a)
		c.Abort()
		return nil, true
	}
	return func(bool) {}, false // it came to no answer that is kept
}
