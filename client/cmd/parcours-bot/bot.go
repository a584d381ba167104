package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"log/slog"
	mathrand "math/rand/v2"
	"strings"
	"sync"
	"time"

	"parcours.example/client"
	"parcours.example/client/cmd/parcours-bot/chat"
	"parcours.example/client/cmd/parcours-bot/journal"
)

// bot posts and answers until it is told to stop.
type bot struct {
	settings *settings
	client   *client.Client
	logger   *slog.Logger
	season   *season
	teller   *teller
	line     *line
	desk     *desk
	heard    chan chat.Heard
	now      func() time.Time
	// entered says that the bot has entered a room, so that what is due there can be posted.
	entered chan struct{}
}

// mostHeard is how many questions wait at most; more are not heard.
const mostHeard = 64

func newBot(s *settings, c *client.Client, logger *slog.Logger) *bot {
	b := &bot{
		settings: s, client: c, logger: logger, season: &season{client: c, known: map[string]known{}},
		line: &line{pace: newPace()}, heard: make(chan chat.Heard, mostHeard), now: time.Now, entered: make(chan struct{}, 1),
	}
	b.teller = &teller{settings: s, season: b.season}
	b.desk = newDesk(s, b.teller, b.line, logger)
	return b
}

// tickEvery is how often it is looked what is due.
const tickEvery = time.Second

// answerers is how many questions are answered at the same time.
const answerers = 2

// run is the bot until ctx ends.
func (b *bot) run(ctx context.Context) error {
	kept, err := journal.Open(b.settings.state)
	if err != nil {
		return err
	}
	defer kept.Close() //nolint:errcheck // what was noted is on disk
	if err := b.checkCourses(ctx); err != nil {
		return err
	}
	var all sync.WaitGroup
	if b.settings.account != nil {
		all.Go(func() { b.stayConnected(ctx) })
		for range answerers {
			all.Go(func() { b.listen(ctx) })
		}
	}
	all.Go(func() { b.postWhatIsDue(ctx, kept) })
	b.logger.InfoContext(ctx, "the bot runs", "rooms", len(b.settings.rooms), "webhooks", len(b.settings.hooks), "rounds", len(b.settings.rounds), "posts", len(b.settings.posts))
	all.Wait()
	b.logger.InfoContext(ctx, "the bot has stopped")
	return nil
}

// checkCourses reads all courses. A file that can't be read is a fault of the configuration;
// a service that is away is not.
func (b *bot) checkCourses(ctx context.Context) error {
	var faults []error
	for i := range b.settings.rounds {
		r := &b.settings.rounds[i]
		_, err := b.season.course(ctx, r)
		if ctx.Err() != nil {
			return errorOf(faults)
		}
		switch {
		case away(err):
			b.logger.WarnContext(ctx, "the service can't be asked now: courses are read later", "error", plain(err))
			return errorOf(faults)
		case err != nil:
			faults = append(faults, fmt.Errorf("the course of %s (%s): %w", r.name, r.file, err))
		}
	}
	return errorOf(faults)
}

func errorOf(faults []error) error {
	if len(faults) == 0 {
		return nil
	}
	return &usageError{faults}
}

func (b *bot) postWhatIsDue(ctx context.Context, kept *journal.Journal) {
	p := &poster{settings: b.settings, journal: kept, teller: b.teller, targets: b.targets(), logger: b.logger, again: map[string]retry{}}
	tick := time.NewTicker(tickEvery)
	defer tick.Stop()
	for {
		p.tick(ctx, b.now())
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		case <-b.entered:
		}
	}
}

func (b *bot) targets() map[string]target {
	targets := map[string]target{}
	for _, r := range b.settings.rooms {
		targets[r.name] = roomTarget{address: r.address, line: b.line}
	}
	for _, h := range b.settings.hooks {
		targets[h.name] = hookTarget{hookSettings: h, line: b.line}
	}
	return targets
}

// Bounds of waiting between connections, and between attempts to enter a room.
const (
	leastReconnect = time.Second
	mostReconnect  = 2 * time.Minute
	rejoinEvery    = 30 * time.Second
	leaveWait      = 2 * time.Second
)

// stayConnected connects, again and again.
func (b *bot) stayConnected(ctx context.Context) {
	for failed := 0; ctx.Err() == nil; failed++ {
		began := time.Now()
		err := b.connected(ctx)
		if ctx.Err() != nil {
			return
		}
		if time.Since(began) > time.Minute {
			failed = 0
		}
		wait := reconnectWait(failed)
		b.logger.WarnContext(ctx, "not connected to the chat server", "error", err, "again_in", wait.String())
		select {
		case <-ctx.Done():
		case <-time.After(wait):
		}
	}
}

// reconnectWait is longer each time, and by chance, so that not all come back at once.
func reconnectWait(failed int) time.Duration {
	longest := min(float64(mostReconnect), float64(leastReconnect)*float64(int(1)<<min(failed, 20)))
	return time.Duration(longest/2) + mathrand.N(time.Duration(longest/2))
}

// connected connects once and is there until the connection or ctx ends.
func (b *bot) connected(ctx context.Context) error {
	link, err := chat.Dial(ctx, b.settings.account.Account, b.heard)
	if err != nil {
		return err
	}
	defer link.Close()
	b.line.set(link)
	defer b.line.set(nil)
	b.logger.InfoContext(ctx, "connected to the chat server")
	rejoin := time.NewTicker(rejoinEvery)
	defer rejoin.Stop()
	told := ""
	for {
		err := errors.Join(b.join(ctx, link)...)
		if err != nil && err.Error() != told { // else it was told before
			b.logger.WarnContext(ctx, "not in every room", "error", err)
		}
		told = fmt.Sprint(err)
		select {
		case <-link.Done():
			return chat.ErrGone
		case <-ctx.Done():
			leaving, cancel := context.WithTimeout(context.WithoutCancel(ctx), leaveWait)
			link.Leave(leaving)
			cancel()
			return ctx.Err()
		case <-rejoin.C:
		}
	}
}

// join enters the rooms that the bot isn't in.
func (b *bot) join(ctx context.Context, link *chat.Link) (faults []error) {
	for _, r := range b.settings.rooms {
		if link.Joined(r.address) {
			continue
		}
		if err := link.Join(ctx, r.address, b.settings.account.nick, r.password); err != nil {
			faults = append(faults, fmt.Errorf("room %s: %w", r.name, err))
			continue
		}
		b.logger.InfoContext(ctx, "in the room", "room", r.name)
		select {
		case b.entered <- struct{}{}:
		default: // it is known already
		}
	}
	return faults
}

// listen answers what is asked.
func (b *bot) listen(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case h := <-b.heard:
			b.desk.hear(ctx, h, b.now())
		}
	}
}

// check holds the configuration against the service and the chat server, and says that it
// holds.
func (b *bot) check(ctx context.Context, stdout io.Writer) error {
	faults := b.checkService(ctx)
	if b.settings.account != nil {
		faults = append(faults, b.checkChat(ctx)...)
	}
	if len(faults) > 0 {
		return fmt.Errorf("not all holds:%s", listed(faults))
	}
	fmt.Fprintf(stdout, "All holds: rounds %d, rooms %d, webhooks %d.\n", len(b.settings.rounds), len(b.settings.rooms), len(b.settings.hooks))
	if len(b.settings.hooks) > 0 {
		fmt.Fprintln(stdout, "Webhooks weren't tried: a trial would be a post.")
	}
	b.showNext(stdout)
	return nil
}

// showNext shows what is posted next, so that whoever wrote the schedule sees it understood.
func (b *bot) showNext(stdout io.Writer) {
	now := b.now()
	for _, post := range b.settings.posts {
		due := post.schedule.Between(now, now.AddDate(1, 0, 0), datesOf(b.settings.rounds))
		if len(due) == 0 {
			fmt.Fprintf(stdout, "%s: nothing within a year.\n", post.text)
			continue
		}
		what := "no round is ahead then"
		if r := roundOf(b.settings.rounds, post, due[0]); r != nil {
			what = r.name
		}
		fmt.Fprintf(stdout, "%s: next on %s to %s: %s.\n", post.text, due[0].At.In(b.settings.zone).Format("Mon 2 Jan 2006 15:04 MST"), strings.Join(post.to, ", "), what)
	}
}

// checkService asks the service whether it is ready, and to read every course.
func (b *bot) checkService(ctx context.Context) []error {
	if _, err := b.client.Ready(ctx); err != nil {
		return []error{fmt.Errorf("the service: %w", err)}
	}
	err := b.checkCourses(ctx)
	if wrong, ok := errors.AsType[*usageError](err); ok {
		return wrong.faults
	}
	return nil
}

// checkChat connects, enters each room, looks for a place for pictures, and goes again.
func (b *bot) checkChat(ctx context.Context) []error {
	account := b.settings.account.Account
	if other, err := account.JID.Bare().WithResource("parcours-bot-check-" + rand.Text()[:6]); err == nil {
		account.JID = other // beside a bot that runs
	}
	link, err := chat.Dial(ctx, account, b.heard)
	if err != nil {
		return []error{err}
	}
	defer link.Close()
	faults := b.join(ctx, link)
	if err := link.KeepsFiles(ctx); err != nil {
		faults = append(faults, fmt.Errorf("pictures: %w", err))
	}
	link.Leave(ctx)
	return faults
}
