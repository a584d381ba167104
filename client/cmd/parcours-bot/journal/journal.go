// Package journal remembers what was posted, so that nothing is posted twice.
//
// Before a message is sent it is noted as begun, and as posted once that is certain. What a
// journal finds begun and no more when it is opened may or may not have been sent: only who
// can look where it was sent to knows.
package journal

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// State is how far a message has come.
type State string

// The states of a message. What is not in the journal was never begun.
const (
	Unknown State = ""
	// Begun was about to be sent.
	Begun State = "begun"
	// Posted was sent for certain.
	Posted State = "posted"
	// Dropped won't be sent any more.
	Dropped State = "dropped"
)

// Keep is how long what became of a message is remembered: longer than any message may be
// late.
const Keep = 90 * 24 * time.Hour

// Journal is a file of messages and schedules. It is safe for concurrent use by one process;
// Open refuses a second one.
type Journal struct {
	name string
	lock *os.File
	mu   sync.Mutex
	kept content
}

// content is the file's.
type content struct {
	// Schedules is since when each schedule is known, by its name.
	Schedules map[string]time.Time `json:"schedules"`
	// Messages are what became of messages, by their names.
	Messages map[string]entry `json:"messages"`
}

// entry is what became of a message, and when it began.
type entry struct {
	State State     `json:"state"`
	Since time.Time `json:"since"`
}

// Open opens the journal in a directory, which is made if it isn't there. It fails where
// another process has it open, or where it can't be read.
func Open(dir string) (*Journal, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("the journal's directory: %w", err)
	}
	lock, err := lock(filepath.Join(dir, "lock"))
	if err != nil {
		return nil, err
	}
	j := &Journal{name: filepath.Join(dir, "journal.json"), lock: lock}
	if err := j.read(); err != nil {
		return nil, errors.Join(err, lock.Close())
	}
	return j, nil
}

func (j *Journal) read() error {
	text, err := os.ReadFile(j.name)
	if errors.Is(err, os.ErrNotExist) {
		j.kept = content{Schedules: map[string]time.Time{}, Messages: map[string]entry{}}
		return nil
	}
	if err != nil {
		return fmt.Errorf("the journal: %w", err)
	}
	if err := json.Unmarshal(text, &j.kept); err != nil || j.kept.Schedules == nil || j.kept.Messages == nil {
		return fmt.Errorf("the journal %s is damaged: see what was posted, then move it away; what fell due before the next start isn't posted any more", j.name)
	}
	return nil
}

// Close lets another process open the journal.
func (j *Journal) Close() error { return j.lock.Close() }

// Since returns since when a schedule is known, which is from now on where it wasn't. What
// fell due before is nobody's to post.
func (j *Journal) Since(schedule string, now time.Time) (time.Time, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if since, ok := j.kept.Schedules[schedule]; ok {
		return since, nil
	}
	j.kept.Schedules[schedule] = now
	return now, j.write()
}

// Look returns what became of a message and since when.
func (j *Journal) Look(message string) (State, time.Time) {
	j.mu.Lock()
	defer j.mu.Unlock()
	e := j.kept.Messages[message]
	return e.State, e.Since
}

// Note keeps what became of a message; Unknown takes back that it began. Once it returns without an error that survives the
// end of the process and of the machine.
func (j *Journal) Note(message string, state State, now time.Time) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	e := j.kept.Messages[message]
	if e.Since.IsZero() {
		e.Since = now
	}
	e.State = state
	j.kept.Messages[message] = e
	if state == Unknown {
		delete(j.kept.Messages, message)
	}
	for name, e := range j.kept.Messages {
		if now.Sub(e.Since) > Keep {
			delete(j.kept.Messages, name)
		}
	}
	return j.write()
}

// write puts a new file in the old one's place, so that at any moment one of them is there
// whole.
func (j *Journal) write() error {
	text, err := json.MarshalIndent(j.kept, "", "  ")
	if err != nil {
		return fmt.Errorf("the journal: %w", err)
	}
	if err := j.replace(append(text, '\n')); err != nil {
		return fmt.Errorf("the journal: %w", err)
	}
	return nil
}

func (j *Journal) replace(text []byte) error {
	next := j.name + ".next"
	f, err := os.OpenFile(next, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600) //nolint:gosec // in the directory of the configuration
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	err = errors.Join(err, f.Sync(), f.Close())
	if err != nil {
		return err
	}
	if err := os.Rename(next, j.name); err != nil {
		return err
	}
	dir, err := os.Open(filepath.Dir(j.name))
	if err != nil {
		return err
	}
	return errors.Join(dir.Sync(), dir.Close())
}
