// Package sharedlog is a log for tests that several goroutines write to. Nothing that ships
// imports it.
package sharedlog

import (
	"bytes"
	"sync"
)

// Buffer is a buffer that is safe for concurrent use. The zero value is empty.
type Buffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

// Write implements io.Writer.
func (l *Buffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

// String returns what was written so far.
func (l *Buffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}
