//go:build unix

package journal

import (
	"fmt"
	"os"
	"syscall"
)

// lock takes a lock that ends with the process, however it ends.
func lock(name string) (*os.File, error) {
	f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o600) //nolint:gosec // in the directory of the configuration
	if err != nil {
		return nil, fmt.Errorf("the journal's lock: %w", err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil { //nolint:gosec // a descriptor
		_ = f.Close() // nothing was written
		return nil, fmt.Errorf("the journal is in use by another bot (%s): %w", name, err)
	}
	return f, nil
}
