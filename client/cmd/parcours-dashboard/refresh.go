package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"log/slog"
	"net/http"
	"time"
	"unicode"
	"unicode/utf8"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// service is what is asked.
type service interface {
	Ready(ctx context.Context) (*contract.Health, error)
	SeasonOfFiles(ctx context.Context, request *contract.SeasonRequest, files iter.Seq[client.SeasonFile]) iter.Seq2[*contract.SeasonLine, error]
}

// refresher keeps a board to its inputs: it looks at them again and again, and asks the service
// when they, or the service's engine, have changed, and after a failure.
type refresher struct {
	inputs  *inputs
	board   *board
	service service
	logger  *slog.Logger
	now     func() time.Time
	// every is how long it waits between two looks.
	every time.Duration

	// answered, refused and tried name what was answered in whole last, what the service won't
	// answer however often it is asked, and what was asked last.
	answered, refused, tried string
	// failures counts those of tried, which isn't asked again before notBefore.
	failures  int
	notBefore time.Time
}

// longestPause is the longest wait between two attempts.
const longestPause = 10 * time.Minute

// run looks until the context ends.
func (r *refresher) run(ctx context.Context) {
	for {
		r.look(ctx)
		select {
		case <-ctx.Done():
			return
		case <-time.After(r.every):
		}
	}
}

// look does what is to be done at this time.
func (r *refresher) look(ctx context.Context) {
	asked, err := r.inputs.read()
	if err != nil {
		r.spoil(sentence(err), err.Error())
		return
	}
	health, err := r.service.Ready(ctx)
	if err != nil {
		r.spoil(away(err), "the service isn't ready")
		return
	}
	name := asked.digest + " " + health.EngineVersion
	switch {
	case name == r.answered:
		r.board.confirm()
	case name == r.refused, name == r.tried && r.now().Before(r.notBefore):
	default:
		r.ask(ctx, asked, name)
	}
}

// ask asks for a season and shows what comes.
func (r *refresher) ask(ctx context.Context, asked *asking, name string) {
	began := r.now()
	if name != r.tried {
		r.tried, r.failures = name, 0
	}
	r.board.begin(asked)
	passing, err := r.read(ctx, asked)
	if ctx.Err() != nil {
		return
	}
	r.failures++ // until it is known to be none
	r.notBefore = r.now().Add(r.pause(err))
	switch problem, isProblem := errors.AsType[*client.Problem](err); {
	case err == nil && !passing:
		r.answered, r.failures, r.notBefore = name, 0, time.Time{}
		r.logger.Info("answered", "rounds", len(asked.names), "seconds", r.now().Sub(began).Seconds())
	case err == nil:
		r.logger.Warn("some rounds failed for a reason that may pass; they are asked again", "at", r.notBefore.UTC())
	case isProblem && lasting(problem):
		r.refused = name
		r.spoil("The service refuses the season. "+placed(&problem.Problem), string(problem.Kind()))
	case isProblem:
		r.spoil("The service can't answer now. "+problemOf(&problem.Problem).words(), string(problem.Kind()))
	default:
		r.spoil(away(err), "the answer broke off")
	}
}

// read takes an answer's lines.
func (r *refresher) read(ctx context.Context, asked *asking) (passing bool, err error) {
	ended := false
	for line, err := range r.service.SeasonOfFiles(ctx, asked.request, r.files(asked.names)) {
		switch {
		case err != nil:
			return passing, err
		case line.Item != nil:
			passing = r.board.take(line.Item) || passing
		case line.Progress != nil:
			r.board.progress(line.Progress.Done)
		case line.End != nil:
			r.board.end(line.End)
			ended = true
		}
	}
	if !ended {
		return passing, fmt.Errorf("the answer broke off: %w", io.ErrUnexpectedEOF)
	}
	return passing, nil
}

// files are the season's files, each opened in its turn.
func (r *refresher) files(names []string) iter.Seq[client.SeasonFile] {
	return func(yield func(client.SeasonFile) bool) {
		for _, name := range names {
			if !yield(client.SeasonFile{RoundID: name, Open: func() (io.ReadCloser, error) { return r.inputs.open(name) }}) {
				return
			}
		}
	}
}

// pause is how long to wait after a failure: longer after each, and as long as the service asks.
func (r *refresher) pause(err error) time.Duration {
	pause := min(r.every<<min(r.failures, 10), longestPause)
	if p, ok := errors.AsType[*client.Problem](err); ok {
		pause = max(pause, min(p.RetryAfter, longestPause))
	}
	return pause
}

// lasting reports whether the same request will be refused again.
func lasting(p *client.Problem) bool {
	return p.Status >= 400 && p.Status < 500 && p.Status != http.StatusRequestTimeout && p.Status != http.StatusTooManyRequests
}

// spoil shows why there is no answer, and logs it once, in words without a caller's figures.
func (r *refresher) spoil(reason, logged string) {
	if s := r.board.snapshot().State; s.Kind != stale || s.Reason != reason {
		r.logger.Warn("no answer", "why", logged)
	}
	r.board.spoil(reason)
}

// placed says what is wrong with a request, and where.
func placed(p *contract.Problem) string {
	text := problemOf(p).words()
	if p.Errors == nil {
		return text
	}
	for _, e := range (*p.Errors)[:min(3, len(*p.Errors))] {
		if e.Pointer != nil {
			text += " " + *e.Pointer + ":"
		}
		text += " " + e.Detail + "."
	}
	return text
}

// away says that the service doesn't answer. What the error itself says may hold an address.
func away(err error) string {
	if p, ok := errors.AsType[*client.Problem](err); ok {
		return "The service doesn't take work now: " + p.Title + "."
	}
	return "The service doesn't answer."
}

// sentence is an error as a sentence.
func sentence(err error) string {
	first, size := utf8.DecodeRuneInString(err.Error())
	return string(unicode.ToUpper(first)) + err.Error()[size:] + "."
}
