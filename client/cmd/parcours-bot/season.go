package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"

	"parcours.example/api/contract"
	"parcours.example/client"
	"parcours.example/client/cmd/parcours-bot/when"
	"parcours.example/client/routes"
)

// round is a round of the season.
type round struct {
	name, file string
	// date is the day it is raced on, nil where nobody says.
	date    *when.Date
	options contract.AnalyseCourseParams
}

// rounds lists the season's rounds in their order: a folder is its route files.
func (c *checker) rounds(courses []fileCourse) []round {
	var rounds []round
	for i, f := range courses {
		at := fmt.Sprintf("courses[%d]", i)
		if (f.File == "") == (f.Folder == "") {
			c.fault("%s: name a file or a folder", at)
			continue
		}
		r := round{name: f.Name, file: c.path(f.File), options: contract.AnalyseCourseParams{
			Laps: f.Laps, LapLine: f.LapLine, Reverse: f.Reverse, StartM: f.StartM, EndM: f.EndM,
		}}
		if f.Date != nil {
			r.date = &when.Date{Year: f.Date.Year, Month: time.Month(f.Date.Month), Day: f.Date.Day}
		}
		if f.Name != "" {
			r.options.Name = &f.Name
		}
		if f.Folder != "" {
			rounds = append(rounds, c.folder(at, f, r.options)...)
			continue
		}
		if info, err := os.Stat(r.file); err != nil {
			c.fault("%s.file: %w", at, err)
		} else if !info.Mode().IsRegular() {
			c.fault("%s.file: %s is not a file", at, f.File)
		}
		if r.name == "" {
			r.name = stem(r.file)
		}
		rounds = append(rounds, r)
	}
	c.distinct(rounds)
	return rounds
}

// folder lists a folder's route files as rounds. A name that begins with a day, like
// 2026-12-03-morvask.gpx, says when the round is.
func (c *checker) folder(at string, f fileCourse, options contract.AnalyseCourseParams) []round {
	if f.Name != "" || f.Date != nil {
		c.fault("%s: the names and dates of a folder's courses are those of its files: 2026-12-03-morvask.gpx", at)
	}
	dir := c.path(f.Folder)
	names, err := routes.Below(os.DirFS(dir))
	if err != nil {
		c.fault("%s.folder: %w", at, err)
	} else if len(names) == 0 {
		c.fault("%s.folder: there is no route file in %s", at, f.Folder)
	}
	var rounds []round
	for _, name := range names {
		r := round{name: stem(name), file: filepath.Join(dir, filepath.FromSlash(name)), options: options}
		if len(r.name) > len(time.DateOnly) {
			if day, err := when.ParseDate(r.name[:len(time.DateOnly)]); err == nil {
				r.date, r.name = &day, strings.TrimLeft(r.name[len(time.DateOnly):], "-_ ")
			}
		}
		rounds = append(rounds, r)
	}
	return rounds
}

// stem is a file's name without folders and endings.
func stem(name string) string {
	name = filepath.Base(name)
	for _, ending := range []string{".gz", filepath.Ext(strings.TrimSuffix(name, ".gz"))} {
		name = strings.TrimSuffix(name, ending)
	}
	return name
}

func (c *checker) distinct(rounds []round) {
	if len(rounds) == 0 {
		c.fault("courses: there is none")
	}
	seen := map[string]bool{}
	for _, r := range rounds {
		key := strings.Join(wordsOf(r.name), " ")
		if seen[key] {
			c.fault("courses: two rounds are named %q", r.name)
		}
		seen[key] = true
	}
}

// wordsOf cuts a name into words in lower case, of letters and digits alone.
func wordsOf(name string) []string {
	return strings.FieldsFunc(strings.ToLower(name), func(c rune) bool { return !unicode.IsLetter(c) && !unicode.IsDigit(c) })
}

// errAmbiguous is of words that name several rounds.
type errAmbiguous struct{ names []string }

// Error implements error.
func (e errAmbiguous) Error() string {
	return "that may be " + strings.Join(e.names, " or ")
}

// findRound returns the round whose name has all the words, the one whose name is them where
// there is one, and nil where there is none.
func findRound(rounds []round, words string) (*round, error) {
	asked := wordsOf(words)
	var found []*round
	for i := range rounds {
		has := wordsOf(rounds[i].name)
		if slices.Equal(has, asked) {
			return &rounds[i], nil
		}
		if len(asked) > 0 && !slices.ContainsFunc(asked, func(w string) bool { return !beginsOne(has, w) }) {
			found = append(found, &rounds[i])
		}
	}
	switch len(found) {
	case 0:
		return nil, nil
	case 1:
		return found[0], nil
	}
	var names []string
	for _, r := range found {
		names = append(names, r.name)
	}
	return nil, errAmbiguous{names}
}

// beginsOne reports whether a word begins one of others. A letter or two begin too many.
func beginsOne(words []string, w string) bool {
	return slices.ContainsFunc(words, func(other string) bool { return other == w || len(w) >= 3 && strings.HasPrefix(other, w) })
}

// nextRound returns the first round that isn't over on a day, nil where all are.
func nextRound(rounds []round, day when.Date) *round {
	var next *round
	for i := range rounds {
		r := &rounds[i]
		if r.date != nil && !r.date.Before(day) && (next == nil || r.date.Before(*next.date)) {
			next = r
		}
	}
	return next
}

// datesOf lists the days on which rounds are, each once.
func datesOf(rounds []round) []when.Date {
	var dates []when.Date
	for _, r := range rounds {
		if r.date != nil && !slices.Contains(dates, *r.date) {
			dates = append(dates, *r.date)
		}
	}
	return dates
}

// season knows the courses of rounds. It is safe for concurrent use.
type season struct {
	client *client.Client
	mu     sync.Mutex
	known  map[string]known
}

// known is a course as its file was read.
type known struct {
	changed time.Time
	size    int64
	course  *contract.Course
}

// course returns a round's course, read anew where its file has changed.
func (s *season) course(ctx context.Context, r *round) (*contract.Course, error) {
	info, err := os.Stat(r.file)
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	k, ok := s.known[r.file]
	s.mu.Unlock()
	if ok && k.size == info.Size() && k.changed.Equal(info.ModTime()) {
		return k.course, nil
	}
	f, err := os.Open(r.file)
	if err != nil {
		return nil, err
	}
	defer f.Close() //nolint:errcheck // only read
	course, err := s.client.AnalyseCourse(ctx, client.File{Content: f}, &r.options)
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	s.known[r.file] = known{changed: info.ModTime(), size: info.Size(), course: course}
	s.mu.Unlock()
	return course, nil
}

// away reports whether an error is of a service that can't be asked now, so that it can be
// asked later.
func away(err error) bool {
	if p, ok := errors.AsType[*client.Problem](err); ok {
		return p.Status >= 500 || p.Status == 429
	}
	return err != nil && !errors.Is(err, os.ErrNotExist) && !errors.Is(err, os.ErrPermission)
}
