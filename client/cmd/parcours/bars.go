package main

import (
	"context"
	"sync"
	"time"

	"github.com/schollz/progressbar/v3"

	"parcours.example/client"
)

// bar shows on a terminal how far something is; nothing anywhere else.
type bar struct {
	mu  sync.Mutex
	bar *progressbar.ProgressBar
}

// progress returns a bar of so many steps; −1 for what isn't known.
func (s *session) progress(words string, of int64, more ...progressbar.Option) *bar {
	errors := screenOf(s.std.err)
	if !errors.terminal {
		return &bar{}
	}
	return &bar{bar: progressbar.NewOptions64(of, append([]progressbar.Option{
		progressbar.OptionSetWriter(s.std.err), progressbar.OptionSetDescription(cut(words, max(10, errors.width/3))), progressbar.OptionSetWidth(max(10, errors.width/4)),
		progressbar.OptionThrottle(100 * time.Millisecond), progressbar.OptionClearOnFinish(), progressbar.OptionSetRenderBlankState(true), progressbar.OptionShowCount(),
		progressbar.OptionSetElapsedTime(false), progressbar.OptionSetPredictTime(false), progressbar.OptionUseANSICodes(true),
		progressbar.OptionSetTheme(progressbar.Theme{Saucer: "#", SaucerHead: "#", SaucerPadding: ".", BarStart: "[", BarEnd: "]"}),
	}, more...)...)}
}

// set moves the bar to a step, of so many where of is above 0.
func (b *bar) set(done, of int64) {
	if b.bar == nil {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if of > 0 && b.bar.GetMax64() != of {
		b.bar.ChangeMax64(of)
	}
	_ = b.bar.Set64(done) // a terminal that is gone shows nothing
}

// clear takes the bar off the terminal.
func (b *bar) clear() {
	if b.bar == nil {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	_ = b.bar.Exit() // leaves the line
	_ = b.bar.Clear()
}

// noticedBytes is the size from which sending a file is worth a bar.
const noticedBytes = 1 << 20

// sending makes a call and shows how much of a large request is sent.
func (s *session) sending(call func(context.Context) error) error {
	if s.flags.Local || !screenOf(s.std.err).terminal {
		return call(s.ctx)
	}
	var mu sync.Mutex // it is told from the goroutines that send
	shown := &bar{}
	ctx := client.WithProgress(s.ctx, func(sent, of int64) {
		mu.Lock()
		defer mu.Unlock()
		if shown.bar == nil && (of >= noticedBytes || sent >= noticedBytes) {
			shown = s.progress("sending", of, progressbar.OptionShowBytes(true))
		}
		shown.set(sent, of)
	})
	err := call(ctx)
	mu.Lock()
	defer mu.Unlock()
	shown.clear()
	return err
}
