package main

import (
	"context"
	"crypto/rand"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"parcours.example/client/cmd/parcours-bot/ask"
	"parcours.example/client/cmd/parcours-bot/chat"
	"parcours.example/client/cmd/parcours-bot/when"
)

// desk takes questions and answers them, within limits. It is safe for concurrent use.
type desk struct {
	settings *settings
	teller   *teller
	line     *line
	logger   *slog.Logger
	persons  *limiter
	rooms    *limiter
	// unclear bounds answers to what wasn't understood, so that two programs that don't
	// understand each other fall silent.
	unclear *limiter

	mu sync.Mutex
	// excused are who was told that the service is away, until it answers again.
	excused map[string]bool
}

// idPrefix begins the id of each message of the bot's, by which others of its kind know it.
const idPrefix = "parcours-"

// What isn't understood is answered a few times, and then once every five minutes.
const (
	unclearPerMinute = 0.2
	unclearBurst     = 4
)

func newDesk(s *settings, t *teller, l *line, logger *slog.Logger) *desk {
	return &desk{
		settings: s, teller: t, line: l, logger: logger, persons: newLimiter(s.personPerMinute, s.personPerMinute), rooms: newLimiter(s.roomPerMinute, s.roomPerMinute),
		unclear: newLimiter(unclearPerMinute, unclearBurst), excused: map[string]bool{},
	}
}

// hear takes what somebody said.
func (d *desk) hear(ctx context.Context, h chat.Heard, now time.Time) {
	question, mine := d.asked(h)
	if !mine {
		return
	}
	switch d.verdict(h, now) {
	case silent:
		return
	case toldToWait:
		d.say(ctx, h, reply{text: "I answer so many questions in a minute and no more. Ask again a little later."})
		return
	}
	q, fault := ask.Read(question)
	ctx, cancel := context.WithTimeout(ctx, answerWait)
	defer cancel()
	answer, err := d.teller.answer(ctx, q, fault, when.DateOf(now.In(d.settings.zone)))
	if err != nil {
		d.excuse(ctx, h, err)
		return
	}
	if answer.unclear && d.unclear.take(who(h), now) != answered {
		return
	}
	d.say(ctx, h, answer)
	d.mu.Lock()
	clear(d.excused)
	d.mu.Unlock()
}

// asked returns the question in what was said, and whether it is for the bot.
func (d *desk) asked(h chat.Heard) (string, bool) {
	rest, named := addressed(h.Body, d.settings.account.nick)
	switch {
	case strings.HasPrefix(h.ID, idPrefix): // another bot of this kind
		return "", false
	case h.Room.Localpart() != "":
		return rest, named
	case !h.Occupant && !slices.Contains(d.settings.account.askedBy, h.From.Domainpart()):
		return "", false
	}
	return rest, true
}

// addressed cuts the nick off that a message begins with, and reports whether it did.
func addressed(body, nick string) (string, bool) {
	body = strings.TrimSpace(body)
	text := strings.TrimPrefix(body, "@")
	if len(text) < len(nick) || !strings.EqualFold(text[:len(nick)], nick) {
		return body, false
	}
	text = text[len(nick):]
	if c, _ := utf8.DecodeRuneInString(text); unicode.IsLetter(c) || unicode.IsDigit(c) {
		return body, false
	}
	return strings.TrimLeft(text, ":,-– \t\n"), true
}

// who is whose questions are counted together: an occupant, or an account from wherever.
func who(h chat.Heard) string {
	if h.Occupant {
		return h.From.String()
	}
	return h.From.Bare().String()
}

// verdict counts a question.
func (d *desk) verdict(h chat.Heard, now time.Time) verdict {
	if v := d.persons.take(who(h), now); v != answered {
		return v
	}
	if h.Room.Localpart() == "" {
		return answered
	}
	return d.rooms.take(h.Room.String(), now)
}

// excuse says that there is no answer; where the service is away, once.
func (d *desk) excuse(ctx context.Context, h chat.Heard, err error) {
	d.logger.WarnContext(ctx, "a question can't be answered", "error", plain(err))
	text, serviceAway := excuse(err)
	d.mu.Lock()
	before := d.excused[who(h)]
	if serviceAway && len(d.excused) < mostBuckets {
		d.excused[who(h)] = true
	}
	d.mu.Unlock()
	if !serviceAway || !before {
		d.say(context.WithoutCancel(ctx), h, reply{text: text})
	}
}

// say answers where it was asked.
func (d *desk) say(ctx context.Context, h chat.Heard, r reply) {
	link := d.line.current()
	if link == nil {
		return // who asked is as far away
	}
	m := chat.Message{ID: idPrefix + rand.Text(), Body: r.text}
	if r.picture != nil {
		var err error
		if m.URL, err = d.line.upload(ctx, r.picture); err != nil {
			d.logger.WarnContext(ctx, "a picture can't be shown", "error", err)
			m.Body = "I can't show pictures here now."
		}
	}
	err := d.line.pace.wait(ctx)
	switch {
	case err != nil:
	case h.Room.Localpart() == "":
		err = link.Whisper(ctx, h.From, h.Occupant, m)
	default:
		if m.URL == "" {
			m.Body = "For " + h.From.Resourcepart() + ": " + m.Body
		}
		err = link.Say(ctx, h.Room, m)
	}
	if err != nil {
		d.logger.WarnContext(ctx, "an answer may not have come through", "error", err)
	}
}
