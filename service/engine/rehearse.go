package engine

import (
	"context"
	"errors"
)

// ErrRehearsed says that a request stands up to all that is known of it before its course is
// made.
var ErrRehearsed = errors.New("engine: nothing is computed in a rehearsal")

// rehearsalKey is where a context keeps that nothing is to be computed.
type rehearsalKey struct{}

// Rehearse returns a context in which every use case ends with ErrRehearsed where it would make
// its course, or with what is wrong before: a request that is computed later is refused at once
// for what would be refused then, a course that isn't cached among it.
func Rehearse(ctx context.Context) context.Context {
	return context.WithValue(ctx, rehearsalKey{}, true)
}

func rehearsing(ctx context.Context) bool { return ctx.Value(rehearsalKey{}) != nil }
