package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"path"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// board holds what is shown. It is safe for concurrent use; what it has given out doesn't change.
type board struct {
	// personal says that riders' masses and powers are shown.
	personal bool
	now      func() time.Time

	mu    sync.Mutex
	shown shown
	// names are the rounds of what is asked, from is when.
	names []string
	from  time.Time
	// body is shown as JSON, tag its digest; nil where it has changed since.
	body []byte
	tag  string
}

func newBoard(title string, personal bool, now func() time.Time) *board {
	return &board{personal: personal, now: now, shown: shown{
		Title: title, State: state{Kind: refreshing, Since: now().UTC()}, Rounds: []shownRound{}, Riders: []shownRider{}, Cautions: []string{}, Model: []string{},
	}}
}

// change changes what is shown.
func (b *board) change(how func(s *shown)) {
	b.mu.Lock()
	defer b.mu.Unlock()
	next := b.shown
	next.Rounds, next.Riders = slices.Clone(next.Rounds), slices.Clone(next.Riders)
	how(&next)
	b.shown, b.body = next, nil
}

// snapshot returns what is shown.
func (b *board) snapshot() shown {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.shown
}

// encoded returns what is shown as JSON, and its digest.
func (b *board) encoded() (body []byte, tag string, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.body == nil {
		b.body, b.tag, err = encode(b.shown)
	}
	return b.body, b.tag, err
}

// encode writes a document as JSON.
func encode(doc shown) (body []byte, tag string, err error) {
	var out bytes.Buffer
	writer := json.NewEncoder(&out)
	writer.SetEscapeHTML(false)
	if err := writer.Encode(doc); err != nil {
		return nil, "", err
	}
	digest := sha256.Sum256(out.Bytes())
	return out.Bytes(), hex.EncodeToString(digest[:16]), nil
}

// enter sets the state, unless it is the same one.
func (s *shown) enter(kind, reason string, at time.Time) {
	if s.State.Kind != kind || s.State.Reason != reason {
		s.State = state{Kind: kind, Reason: reason, Since: at}
	}
}

// begin shows the rounds and riders that are now asked for, with what is known of them before.
func (b *board) begin(a *asking) {
	b.change(func(s *shown) {
		b.names, b.from = a.names, b.now().UTC()
		s.State = state{Kind: refreshing, Since: b.from, OfCount: len(a.names)}
		rounds := make([]shownRound, len(a.names))
		for i, name := range a.names {
			rounds[i] = shownRound{RoundID: name, Name: name}
			if k := slices.IndexFunc(s.Rounds, func(r shownRound) bool { return r.RoundID == name }); k >= 0 {
				rounds[i] = s.Rounds[k]
				rounds[i].Before = rounds[i].AnsweredAt != nil
			}
		}
		s.Rounds = rounds
		riders := make([]shownRider, len(*a.request.Riders))
		for i, r := range *a.request.Riders {
			riders[i] = shownRider{Rider: *r.Name}
			if k := slices.IndexFunc(s.Riders, func(known shownRider) bool { return known.Rider == *r.Name }); k >= 0 {
				riders[i] = s.Riders[k]
			}
			b.describe(&riders[i], r)
		}
		s.Riders = riders
	})
}

// describe adds the roster's figures of a rider, where they are to be shown.
func (b *board) describe(shown *shownRider, r contract.Rider) {
	if b.personal {
		shown.MassKg, shown.PowerW = &r.MassKg, r.PowerW
	}
}

// take shows a round that has come.
func (b *board) take(item *contract.SeasonItem) (passing bool) {
	b.change(func(s *shown) {
		if item.Index < 0 || item.Index >= len(b.names) {
			return
		}
		r := roundOf(b.names[item.Index], item, b.now().UTC())
		s.Rounds[item.Index] = r
		passing = r.Problem != nil && r.Problem.passing
		s.State.DoneCount = max(s.State.DoneCount, item.Index+1)
	})
	return passing
}

// progress shows how many rounds are done.
func (b *board) progress(done int) {
	b.change(func(s *shown) { s.State.DoneCount = max(s.State.DoneCount, min(done, len(b.names))) })
}

// end shows what the rounds come to together.
func (b *board) end(end *contract.SeasonEnd) {
	b.change(func(s *shown) {
		at := b.now().UTC()
		s.AnsweredAt, s.EngineVersion = &at, end.Comparison.EngineVersion
		s.enter(current, "", at)
		for i := range s.Rounds { // the times of a round are its own from here on
			s.Rounds[i].Times = slices.Clone(s.Rounds[i].Times)
		}
		compared(s.Rounds, &end.Comparison)
		for i := range end.Comparison.Riders {
			c := &end.Comparison.Riders[i]
			if c.RiderIndex < 0 || c.RiderIndex >= len(s.Riders) {
				continue
			}
			r := riderOf(c, b.names, b.personal)
			r.MassKg, r.PowerW = s.Riders[c.RiderIndex].MassKg, s.Riders[c.RiderIndex].PowerW
			s.Riders[c.RiderIndex] = r
		}
		s.Cautions, s.Model = end.Comparison.Cautions, end.Comparison.Model
	})
}

// confirm shows that the last answer is that of the files as they lie.
func (b *board) confirm() {
	if b.snapshot().State.Kind != current {
		b.change(func(s *shown) { s.enter(current, "", b.now().UTC()) })
	}
}

// spoil shows that what is shown may not be right any more, and why.
func (b *board) spoil(reason string) {
	if s := b.snapshot().State; s.Kind != stale || s.Reason != reason {
		b.change(func(s *shown) { s.enter(stale, reason, b.now().UTC()) })
	}
}

// round returns a round by the id of its course.
func (b *board) round(courseID string) (shownRound, bool) {
	rounds := b.snapshot().Rounds
	i := slices.IndexFunc(rounds, func(r shownRound) bool { return courseID != "" && r.CourseID == courseID })
	if i < 0 {
		return shownRound{}, false
	}
	return rounds[i], true
}

// kindOf is the kind of a problem.
func kindOf(p *contract.Problem) string {
	return string((&client.Problem{Problem: *p}).Kind())
}

// titleOf is what a season is called that has no other name: by its folder.
func titleOf(folder string) string {
	name := strings.ReplaceAll(path.Base(folder), "-", " ")
	first, size := utf8.DecodeRuneInString(name)
	return string(unicode.ToUpper(first)) + name[size:]
}
