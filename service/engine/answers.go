package engine

import (
	"bytes"
	"context"
	"encoding/gob"
	"fmt"
	"math"
	"slices"
	"sync/atomic"

	"github.com/maypok86/otter/v2"

	"parcours.example/analysis"
)

// Answer is a reply as it was encoded. It is immutable, shared, and the same for everybody
// who asks the same.
type Answer struct {
	// ID is a digest of all that the bytes depend on: what is asked, of which course, and in
	// which form.
	ID string
	// MediaType is that of Body, Filename what to call it where it is kept; "" for no name.
	MediaType, Filename string
	// Coding is that of Body, "" for none.
	Coding string
	Body   []byte
}

// Question says which answer is wanted.
type Question struct {
	// Request is a digest of the request as it was sent, "" for one that isn't recalled by it.
	// Requests that differ can have the same answer, never the other way round.
	Request string
	// ID is that of the answer where it is known before the answer is made: where the course
	// is given by its id or there is none. Only such answers are shared with other replicas;
	// else the course is.
	ID string
	// CourseIDs are the courses that are given by their ids.
	CourseIDs []string
}

// Recall returns the answer to a request that was sent before from this replica's own memory.
func (e *Engine) Recall(ctx context.Context, request string) (*Answer, bool) {
	id, ok := e.answers.front.GetIfPresent(request)
	if !ok {
		return nil, false
	}
	a, ok := e.answers.get(id, "")
	if ok {
		e.meter.answered(ctx, tierProcess)
	}
	return a, ok
}

// Answer returns the answer to a question: the one that is kept here, or by another replica,
// or that another caller is waiting for, or what work makes. What work uses must outlive the
// caller, who may leave while others wait for the same. Errors are those of work, or the
// context's.
func (e *Engine) Answer(ctx context.Context, q Question, work func(context.Context) (*Answer, error)) (*Answer, error) {
	if a, ok := e.kept(ctx, q); ok {
		return a, nil
	}
	flight := q.ID
	if flight == "" {
		flight = q.Request
	}
	return e.replies.shared(ctx, flight, func(ctx context.Context) (*Answer, error) {
		return e.AnswerAlone(ctx, q, work)
	})
}

// AnswerAlone is Answer for work that tells its caller how far it is: it is shared once it is
// done, not with callers who come meanwhile.
func (e *Engine) AnswerAlone(ctx context.Context, q Question, work func(context.Context) (*Answer, error)) (*Answer, error) {
	if a, ok := e.kept(ctx, q); ok { // from a call that has just ended
		return a, nil
	}
	t := &trip{}
	ctx = context.WithValue(ctx, tripKey{}, t)
	if a := e.askShared(ctx, t, q); a != nil {
		e.answers.put(q.Request, a)
		return a, nil
	}
	a, err := work(ctx)
	if err != nil {
		return nil, err
	}
	e.meter.answered(ctx, tierMade)
	e.answers.put(q.Request, a)
	if q.ID != "" && e.mayWrite(ctx) {
		e.shared.PutLater(answerKey(a.ID), len(a.Body), func() ([]byte, error) { return encodeAnswer(a) })
	}
	return a, nil
}

// kept returns the answer that this replica keeps.
func (e *Engine) kept(ctx context.Context, q Question) (*Answer, bool) {
	a, ok := e.answers.get(q.ID, "")
	if ok {
		e.answers.put(q.Request, a)
		e.meter.answered(ctx, tierProcess)
	}
	return a, ok
}

// trip is what a request may still ask of Redis: one read and one write.
type trip struct {
	read, wrote atomic.Bool
	// courses were read beside the answer, those that aren't shared left out.
	courses map[string]*Course
}

// tripKey is where a context keeps its request's trip.
type tripKey struct{}

// mayRead reports whether a request may read from Redis, and takes note that it does.
func (e *Engine) mayRead(ctx context.Context) bool {
	t, counted := ctx.Value(tripKey{}).(*trip)
	return e.shared != nil && (!counted || !t.read.Swap(true))
}

// mayWrite is mayRead for writing.
func (e *Engine) mayWrite(ctx context.Context) bool {
	t, counted := ctx.Value(tripKey{}).(*trip)
	return e.shared != nil && (!counted || !t.wrote.Swap(true))
}

// askShared reads an answer that another replica made, and at the same time the question's
// courses that aren't here; nil where there is none.
func (e *Engine) askShared(ctx context.Context, t *trip, q Question) *Answer {
	var keys []string
	if q.ID != "" {
		keys = append(keys, answerKey(q.ID))
	}
	answers := len(keys)
	var missing []string
	for _, id := range q.CourseIDs {
		if _, ok := e.courses.byID(id); !ok && !slices.Contains(missing, id) {
			missing, keys = append(missing, id), append(keys, sharedKey(id))
		}
	}
	if len(keys) == 0 || !e.mayRead(ctx) {
		return nil
	}
	found := e.shared.GetAll(ctx, keys...)
	if answers > 0 && found[0] != nil {
		if a, err := decodeAnswer(q.ID, found[0]); err == nil {
			e.meter.answered(ctx, tierRedis)
			return a
		}
	}
	t.courses = map[string]*Course{}
	for i, id := range missing {
		if c := e.take(ctx, id, found[answers+i]); c != nil {
			t.courses[id] = c
		}
	}
	return nil
}

// Coded returns an answer in a coding, which encode makes where it isn't kept.
func (e *Engine) Coded(a *Answer, coding string, encode func([]byte) ([]byte, error)) (*Answer, error) {
	if coding == a.Coding {
		return a, nil
	}
	if kept, ok := e.answers.get(a.ID, coding); ok {
		return kept, nil
	}
	body, err := encode(a.Body)
	if err != nil {
		return nil, err
	}
	made := *a
	made.Coding, made.Body = coding, body
	e.answers.keep(&made)
	return &made, nil
}

// answerCache keeps answers by their ids and codings as long as their bytes fit, and knows
// which answer a request led to.
type answerCache struct {
	answers *otter.Cache[string, *Answer]
	front   *otter.Cache[string, string]
}

func newAnswerCache(maxBytes int64) (*answerCache, error) {
	answers, err := otter.New(&otter.Options[string, *Answer]{
		MaximumWeight: uint64(maxBytes),
		Weigher: func(key string, a *Answer) uint32 {
			const overhead = 512 // the struct, the key twice, the cache's own entry
			return uint32(min(overhead+len(key)+len(a.Body), math.MaxInt32))
		},
	})
	if err != nil {
		return nil, fmt.Errorf("engine: answers: %w", err)
	}
	front, err := otter.New(&otter.Options[string, string]{MaximumSize: frontEntries})
	if err != nil {
		return nil, fmt.Errorf("engine: answers: %w", err)
	}
	return &answerCache{answers, front}, nil
}

// get returns a kept answer in a coding.
func (c *answerCache) get(id, coding string) (*Answer, bool) {
	if id == "" {
		return nil, false
	}
	return c.answers.GetIfPresent(codedKey(id, coding))
}

// put keeps an answer, and that a request led to it unless that is "".
func (c *answerCache) put(request string, a *Answer) {
	c.keep(a)
	if request != "" {
		c.front.Set(request, a.ID)
	}
}

// keep keeps an answer. One that would take an eighth of the memory isn't kept: it would
// drop many others and soon be dropped itself.
func (c *answerCache) keep(a *Answer) {
	if uint64(len(a.Body)) <= c.answers.GetMaximum()/8 {
		c.answers.Set(codedKey(a.ID, a.Coding), a)
	}
}

// bytes returns the memory of all answers.
func (c *answerCache) bytes() uint64 { return c.answers.WeightedSize() }

func (c *answerCache) close() {
	c.answers.StopAllGoroutines()
	c.front.StopAllGoroutines()
}

func codedKey(id, coding string) string { return id + "/" + coding }

// answerKey is the key of an answer among all replicas.
func answerKey(id string) string { return "parcours:answer:v" + analysis.EngineVersion + ":" + id }

// encodeAnswer writes an answer for replicas of the same engine version.
func encodeAnswer(a *Answer) ([]byte, error) {
	var b bytes.Buffer
	err := gob.NewEncoder(&b).Encode(a)
	return b.Bytes(), err
}

// decodeAnswer undoes encodeAnswer. It fails on what is not the answer of an id.
func decodeAnswer(id string, data []byte) (*Answer, error) {
	var a Answer
	if err := gob.NewDecoder(bytes.NewReader(data)).Decode(&a); err != nil {
		return nil, fmt.Errorf("engine: shared answer: %w", err)
	}
	if a.ID != id {
		return nil, fmt.Errorf("engine: the shared value of answer %s is another's", id)
	}
	return &a, nil
}
