//go:build !unix

package journal

import (
	"fmt"
	"os"
)

// lock opens the lock's file alone: here nothing keeps a second process out.
func lock(name string) (*os.File, error) {
	f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o600) //nolint:gosec // in the directory of the configuration
	if err != nil {
		return nil, fmt.Errorf("the journal's lock: %w", err)
	}
	return f, nil
}
