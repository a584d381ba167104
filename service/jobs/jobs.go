// Package jobs keeps calls that are answered later: each waits for its turn, is answered by the
// work that answers it at once, and is fetched by who sent it. The queue is in this process, or
// in a Redis that many processes share; nothing here knows what a call asks.
package jobs

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"time"
)

// Call is a request that is answered later.
type Call struct {
	// Client is who sent it, empty where everybody may call: nobody else learns of its job.
	Client string
	// Path, Query, Accept and MediaType are the request's, as it was sent, and RequestID is its
	// id, for logs.
	Path, Query, Accept, MediaType, RequestID string
	// Body is the request's with its codings undone, Sent as how many bytes it was sent.
	Body []byte
	Sent int
}

// State says how far a job is.
type State string

// The states of a job: it waits, is worked on, and is over as one of the others.
const (
	Waiting   State = "waiting"
	Running   State = "running"
	Done      State = "done"
	Failed    State = "failed"
	Cancelled State = "cancelled"
)

// Over reports whether nothing changes any more.
func (s State) Over() bool { return s != Waiting && s != Running }

// Job is a call on its way.
type Job struct {
	// ID names it. It can't be guessed: 130 random bits.
	ID    string
	State State
	// Done of Of parts of the work are done; Of is 0 where the work doesn't tell.
	Done, Of int
	// Answer is the result of a job that is done and the problem of one that failed; empty where
	// the work ended without either.
	Answer []byte
	// Expires is when a job that is over is forgotten; zero before.
	Expires time.Time
}

// Answer is what a call came to.
type Answer struct {
	Failed bool
	Body   []byte
}

// Work answers a call. It may tell how far it is, one call of progress at a time. It fails only
// where its context ends.
type Work func(ctx context.Context, call Call, progress func(done, of int)) (Answer, error)

// Queue keeps jobs. It is safe for concurrent use.
type Queue interface {
	// Submit lets a call wait. It fails with a *FullError, with ErrAway, or the context's error.
	Submit(ctx context.Context, call Call) (Job, error)
	// Look returns a client's job, at the latest after the wait: before where it is over by
	// then. It fails with ErrUnknown, with ErrAway, or the context's error.
	Look(ctx context.Context, id, client string, wait time.Duration) (Job, error)
	// Cancel ends a client's job, or forgets the answer of one that is over; either way it is
	// cancelled then. Errors are those of Look.
	Cancel(ctx context.Context, id, client string) error
	// Start begins to work on jobs. It is called once at most.
	Start(work Work) error
	// Near reports whether calls never leave this process.
	Near() bool
	// Close takes no more jobs to work on and waits for those that are worked on, which it ends
	// with the context. No method may be called after it.
	Close(ctx context.Context) error
}

// ErrUnknown says that there is no such job: there never was, it is forgotten, or it is
// somebody else's.
var ErrUnknown = errors.New("jobs: no such job")

// ErrAway says that what keeps the jobs doesn't answer.
var ErrAway = errors.New("jobs: the queue doesn't answer")

// FullError says that as many jobs wait as may.
type FullError struct {
	// RetryAfter is when to come again.
	RetryAfter time.Duration
}

// Error implements error.
func (e *FullError) Error() string {
	return fmt.Sprintf("jobs: the queue is full; come again in %v", e.RetryAfter)
}

// MostBodyBytes is the largest body of a call that is kept.
const MostBodyBytes = 16 << 20

// Bounds of jobs.
const (
	defaultTTL         = time.Hour
	defaultMostWaiting = 100
	// mostRun is how long a job is worked on at most: the dearest request that the limits allow
	// takes a tenth of it on one core.
	mostRun = 30 * time.Minute
	// fullAgain is when to come again where the queue is full.
	fullAgain = 10 * time.Second
)

// newID returns the id of a new job.
func newID() string { return rand.Text() }
