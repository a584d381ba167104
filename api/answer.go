package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"reflect"
	"strings"

	"github.com/gin-gonic/gin"

	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// requestKeyName is where recall leaves the request's digest in the context.
const requestKeyName = "parcours.request"

// recall is the middleware that answers a request which was answered before, byte for byte the
// same one, before anything else is done for it. Only what was a valid request was answered.
func (s *server) recall(c *gin.Context) {
	if !isWork(c) {
		return
	}
	key := requestDigest(c)
	c.Set(requestKeyName, key)
	if a, ok := s.engine.Recall(c.Request.Context(), key); ok {
		s.replyAnswer(c, a)
		c.Abort()
	}
}

// requestDigest names a request with everything in it that its answer can depend on. What a
// rider weighs or can do is in it as a digest alone.
func requestDigest(c *gin.Context) string {
	h := sha256.New()
	for _, text := range []string{
		c.Request.Method, c.Request.URL.EscapedPath(), c.Request.URL.RawQuery,
		acceptField(c), c.GetHeader("Content-Type"),
	} {
		h.Write([]byte(text))
		h.Write([]byte{0})
	}
	h.Write(requestBody(c))
	return hex.EncodeToString(h.Sum(nil)[:16])
}

// acceptField is a request's Accept, of one field or several.
func acceptField(c *gin.Context) string { return strings.Join(c.Request.Header.Values("Accept"), ",") }

// question asks for the answer to a request by its own bytes: for what can't be named before
// it is made.
func question(c *gin.Context) engine.Question {
	return engine.Question{Request: c.GetString(requestKeyName)}
}

// questionOf asks for the answer of a kind and media type to a decoded request and what else
// it depends on.
func questionOf(c *gin.Context, mediaType, kind string, request any, more ...any) (engine.Question, error) {
	q := question(c)
	id, named := courseNamed(request)
	if !named {
		return q, nil
	}
	if id != "" {
		q.CourseIDs = []string{id}
	}
	key, err := requestKey(kind, append([]any{request}, more...)...)
	q.ID = answerID(key, mediaType)
	return q, err
}

// courseNamed returns the id of the course that a request is about, "" for one that is about
// none; named is false where the course comes with the request.
func courseNamed(request any) (id string, named bool) {
	field := reflect.Indirect(reflect.ValueOf(request)).FieldByName("Course")
	if !field.IsValid() {
		return "", true
	}
	course, ok := field.Interface().(CourseReference)
	if !ok || course.CourseID == nil || course.File != nil || course.Profile != nil || course.Options != nil {
		return "", false
	}
	return *course.CourseID, true
}

// answer replies with the answer to a question, which work makes unless it is known. Work must
// not use c: others may wait for what it makes once this caller has left.
func (s *server) answer(c *gin.Context, q engine.Question, work func(context.Context) (result, error)) {
	a, err := s.engine.Answer(c.Request.Context(), q, made(work))
	if err != nil {
		s.fail(c, err)
		return
	}
	s.replyAnswer(c, a)
}

// made turns a result into an answer.
func made(work func(context.Context) (result, error)) func(context.Context) (*engine.Answer, error) {
	return func(ctx context.Context) (*engine.Answer, error) {
		r, err := work(ctx)
		if err != nil {
			return nil, err
		}
		return &engine.Answer{ID: answerID(r.key, r.mediaType), MediaType: r.mediaType, Filename: r.filename, Body: r.body}, nil
	}
}

// replyAnswer sends an answer, in a coding that is made once for all callers.
func (s *server) replyAnswer(c *gin.Context, a *engine.Answer) {
	if a.Filename != "" {
		c.Header("Content-Disposition", `attachment; filename="`+a.Filename+`"`)
	}
	coding := codingOf(c, a.MediaType, len(a.Body))
	if replyHeader(c, entityTag(a.ID, coding), held) {
		return
	}
	a, err := s.engine.Coded(a, coding, func(body []byte) ([]byte, error) {
		defer step(c, "compress")()
		return compress(coding, body)
	})
	if err != nil { // writing to memory doesn't fail
		s.fail(c, err)
		return
	}
	replyBody(c, a.MediaType, coding, a.Body)
}

// answerJSON answers a call whose request and answer are both JSON. The answer that work
// gives is named by its kind, the request as work leaves it (its course as a reference by
// id), and what else it depends on.
func answerJSON[Request any](s *server, c *gin.Context, kind string, work func(ctx context.Context, request *Request) (any, error), more ...any) {
	if accepted(c.GetHeader("Accept"), jsonMediaType) == "" {
		writeProblem(c, notAcceptable(jsonMediaType))
		return
	}
	var request Request
	if err := decodeJSON(requestBody(c), &request); err != nil {
		s.fail(c, err)
		return
	}
	if s.later(c, func(ctx context.Context) error { _, err := work(ctx, &request); return err }) {
		return
	}
	q, err := questionOf(c, jsonMediaType, kind, request, more...)
	if err != nil {
		s.fail(c, err)
		return
	}
	s.answer(c, q, func(ctx context.Context) (result, error) {
		answer, err := work(ctx, &request)
		if err != nil {
			return result{}, err
		}
		key, err := requestKey(kind, append([]any{request}, more...)...)
		if err != nil {
			return result{}, err
		}
		return jsonResult(ctx, answer, key)
	})
}
