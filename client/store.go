package client

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
)

// Store keeps what was read of courses in a directory, so that what hasn't changed isn't
// transferred again. It is safe for concurrent use, and for several processes. What it holds is
// as private as the courses are.
type Store struct {
	dir  string
	most int64
	mu   sync.Mutex
}

// storeSuffix is that of a store's files.
const storeSuffix = ".answer"

// OpenStore uses a directory, which it makes where there is none, for up to so many bytes.
func OpenStore(dir string, mostBytes int64) (*Store, error) {
	if mostBytes <= 0 {
		return nil, errors.New("client: the store's size isn't positive")
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("client: the store: %w", err)
	}
	return &Store{dir: dir, most: mostBytes}, nil
}

// path is the file of a key.
func (s *Store) path(key string) string {
	digest := sha256.Sum256([]byte(key))
	return filepath.Join(s.dir, hex.EncodeToString(digest[:])+storeSuffix)
}

// load returns the tag and the bytes of a key; no tag where there is nothing whole. A file is
// its tag, a digest of the bytes and the bytes.
func (s *Store) load(key string) (tag string, body []byte) {
	name := s.path(key)
	content, err := os.ReadFile(name) //nolint:gosec // a digest in the store's own directory
	if err != nil {
		return "", nil
	}
	head, body, ok := bytes.Cut(content, []byte("\n"))
	tag, sum, paired := strings.Cut(string(head), " ")
	if !ok || !paired || sum != digestOf(body) {
		return "", nil
	}
	now := time.Now()
	_ = os.Chtimes(name, now, now) // used least recently goes first; a file that is gone goes anyway
	return tag, body
}

func digestOf(body []byte) string {
	digest := sha256.Sum256(body)
	return hex.EncodeToString(digest[:])
}

// save keeps the bytes of a key and makes room.
func (s *Store) save(key, tag string, body []byte) error {
	if int64(len(body)) > s.most/2 || strings.ContainsAny(tag, " \n") {
		return nil
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	f, err := os.CreateTemp(s.dir, "new-*")
	if err != nil {
		return err
	}
	_, err = f.Write(append([]byte(tag+" "+digestOf(body)+"\n"), body...))
	err = errors.Join(err, f.Close())
	if err == nil {
		err = os.Rename(f.Name(), s.path(key)) // whole, or not at all
	}
	if err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return s.trim()
}

// trim removes what was used least recently until the rest fits.
func (s *Store) trim() error {
	entries, err := os.ReadDir(s.dir)
	if err != nil {
		return err
	}
	var files []os.FileInfo
	total := int64(0)
	for _, e := range entries {
		if info, err := e.Info(); err == nil && strings.HasSuffix(e.Name(), storeSuffix) {
			files, total = append(files, info), total+info.Size()
		}
	}
	slices.SortFunc(files, func(a, b os.FileInfo) int { return cmp.Compare(a.ModTime().UnixNano(), b.ModTime().UnixNano()) })
	for _, f := range files {
		if total <= s.most {
			break
		}
		if err := os.Remove(filepath.Join(s.dir, f.Name())); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
		total -= f.Size()
	}
	return nil
}
