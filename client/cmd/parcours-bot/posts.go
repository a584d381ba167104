package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"time"

	"parcours.example/client/cmd/parcours-bot/journal"
	"parcours.example/client/cmd/parcours-bot/when"
)

// Errors of a target. Others are of messages that it refuses for good.
var (
	// errNotNow is of a message that wasn't sent for certain.
	errNotNow = errors.New("it can't be sent now")
	// errUncertain is of a message that may have been sent.
	errUncertain = errors.New("it may have been sent")
	// errNobodyKnows is of a target that can't tell what was sent to it.
	errNobodyKnows = errors.New("nobody can tell whether it was sent")
)

// part is one message of a post.
type part struct {
	id   string
	text string
	// picture is the round's picture as PNG, nil where the part has none.
	picture []byte
}

// partKind is what a message of a post holds.
type partKind struct {
	name          string
	text, picture bool
}

// target is where posts go: a room or a webhook.
type target interface {
	// ready reports whether there is any use in trying to send now.
	ready() bool
	// kinds lists the messages that a post is made of there.
	kinds() []partKind
	// send sends a message and returns once it is certain to be there.
	send(ctx context.Context, p part) error
	// sent reports whether a message that may have been sent since a moment is there.
	sent(ctx context.Context, id string, since time.Time) (bool, error)
}

// poster posts what falls due, each message once.
type poster struct {
	settings *settings
	journal  *journal.Journal
	teller   *teller
	targets  map[string]target
	logger   *slog.Logger
	// again says when what failed is tried again.
	again map[string]retry
}

// retry is when to try a message again.
type retry struct {
	at    time.Time
	tries int
}

// How what failed is tried again: with twice the wait each time, up to a bound.
const (
	firstRetry = 5 * time.Second
	mostRetry  = 5 * time.Minute
)

// lookBack is how far back what fell due is looked at, to tell what was missed.
const lookBack = 30 * 24 * time.Hour

// delivery is a post to one target at one time.
type delivery struct {
	post   post
	to     string
	target target
	due    when.Due
	// name is the delivery's own, the same after a restart.
	name string
}

// tick posts what is due at a moment.
func (p *poster) tick(ctx context.Context, now time.Time) {
	dates := datesOf(p.settings.rounds)
	for _, post := range p.settings.posts {
		for _, to := range post.to {
			since, err := p.journal.Since(nameOf(to, post), now)
			if err != nil {
				p.logger.ErrorContext(ctx, "the journal can't be written, so that nothing is posted", "error", err)
				return
			}
			if back := now.Add(-lookBack); back.After(since) {
				since = back
			}
			for _, due := range post.schedule.Between(since, now, dates) {
				if ctx.Err() != nil {
					return
				}
				name := idPrefix + nameOf(to, post, due.At.UTC().Format(time.RFC3339))
				p.deliver(ctx, delivery{post: post, to: to, target: p.targets[to], due: due, name: name}, now)
			}
		}
	}
}

// nameOf names a post to a place, and one time of it.
func nameOf(to string, p post, more ...string) string {
	digest := sha256.New()
	for _, s := range append([]string{to, p.text, p.round}, more...) {
		fmt.Fprintf(digest, "%d:%s", len(s), s)
	}
	return hex.EncodeToString(digest.Sum(nil)[:10])
}

// deliver brings a delivery as far as it goes now.
func (p *poster) deliver(ctx context.Context, d delivery, now time.Time) {
	logger := p.logger.With("to", d.to, "due", d.due.At)
	for _, kind := range d.target.kinds() {
		id := d.name + "-" + kind.name
		state, since := p.journal.Look(id)
		if state == journal.Posted || state == journal.Dropped || p.again[id].at.After(now) {
			continue
		}
		if now.Sub(d.due.At) > d.post.late {
			p.note(ctx, id, journal.Dropped, now)
			logger.WarnContext(ctx, "not posted: it is too late for it", "message", kind.name, "late_within", d.post.late.String())
			continue
		}
		if !d.target.ready() {
			continue
		}
		if state == journal.Begun && !p.mayGo(ctx, logger, d, id, since, now) {
			continue
		}
		p.post(ctx, logger, d, kind, id, now)
	}
}

// mayGo finds out whether a message that was begun is there, and reports whether it may be
// sent: it certainly isn't.
func (p *poster) mayGo(ctx context.Context, logger *slog.Logger, d delivery, id string, since, now time.Time) bool {
	there, err := d.target.sent(ctx, id, since)
	switch {
	case errors.Is(err, errNobodyKnows):
		p.note(ctx, id, journal.Dropped, now)
		logger.WarnContext(ctx, "it may have been posted before something broke off, and nobody can tell: it isn't posted again", "error", err)
	case err != nil:
		p.later(id, now)
		logger.WarnContext(ctx, "whether it was posted can't be found out now", "error", err)
	case there:
		p.note(ctx, id, journal.Posted, now)
		logger.InfoContext(ctx, "it was posted before something broke off")
	default:
		return true
	}
	return false
}

// post makes a message, notes that it begins and sends it.
func (p *poster) post(ctx context.Context, logger *slog.Logger, d delivery, kind partKind, id string, now time.Time) {
	r := roundOf(p.settings.rounds, d.post, d.due)
	if r == nil {
		p.note(ctx, id, journal.Dropped, now)
		logger.InfoContext(ctx, "not posted: no round is ahead")
		return
	}
	message, err := p.message(ctx, r, kind, id)
	if err != nil {
		p.later(id, now)
		logger.WarnContext(ctx, "it can't be written now", "round", r.name, "error", plain(err))
		return
	}
	if !p.note(ctx, id, journal.Begun, now) {
		return
	}
	err = d.target.send(ctx, message)
	switch {
	case err == nil:
		p.note(ctx, id, journal.Posted, now)
		logger.InfoContext(ctx, "posted", "round", r.name, "message", kind.name)
	case errors.Is(err, errNotNow):
		p.note(ctx, id, journal.Unknown, now)
		p.later(id, now)
		logger.WarnContext(ctx, "it can't be posted now", "error", err)
	case errors.Is(err, errUncertain):
		p.later(id, now)
		logger.WarnContext(ctx, "it may be posted", "error", err)
	default:
		p.note(ctx, id, journal.Dropped, now)
		logger.ErrorContext(ctx, "not posted: it is refused", "error", err)
	}
}

// roundOf returns the round that a post is about when it falls due, nil where none is ahead.
func roundOf(rounds []round, p post, due when.Due) *round {
	switch {
	case due.Round != nil:
		return nextRound(rounds, *due.Round)
	case p.round == "next":
		return nextRound(rounds, due.Day)
	}
	r, err := findRound(rounds, p.round)
	if err != nil { // which start-up refuses
		return nil
	}
	return r
}

func (p *poster) message(ctx context.Context, r *round, kind partKind, id string) (part, error) {
	ctx, cancel := context.WithTimeout(ctx, answerWait)
	defer cancel()
	m := part{id: id}
	var err error
	if kind.text {
		if m.text, err = p.teller.brief(ctx, r); err != nil {
			return m, err
		}
	}
	if kind.picture {
		m.picture, err = p.teller.picture(ctx, r)
	}
	return m, err
}

// note keeps what became of a message. Where it can't be kept nothing may be sent.
func (p *poster) note(ctx context.Context, id string, state journal.State, now time.Time) bool {
	if state == journal.Posted || state == journal.Dropped {
		delete(p.again, id)
	}
	if err := p.journal.Note(id, state, now); err != nil {
		p.later(id, now)
		p.logger.ErrorContext(ctx, "the journal can't be written", "error", err)
		return false
	}
	return true
}

// later puts a message off.
func (p *poster) later(id string, now time.Time) {
	r := p.again[id]
	wait := min(mostRetry, firstRetry<<min(r.tries, 10))
	p.again[id] = retry{at: now.Add(wait/2 + rand.N(wait/2)), tries: r.tries + 1}
}
