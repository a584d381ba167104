// Package figures keeps what trials measure, so that a table can be made of it. Nothing that
// ships imports it.
package figures

import (
	"fmt"
	"os"
	"testing"
)

// Report tells the figure that a trial of deploy/RELIABILITY.md measured. It goes to the test's
// log, and as a line of its own, "T9<tab>figure", to the file that PARCOURS_FIGURES names.
func Report(t testing.TB, trial, format string, args ...any) {
	t.Helper()
	line := fmt.Sprintf(format, args...)
	t.Logf("%s: %s", trial, line)
	name := os.Getenv("PARCOURS_FIGURES")
	if name == "" {
		return
	}
	f, err := os.OpenFile(name, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	if _, err := fmt.Fprintf(f, "%s\t%s\n", trial, line); err != nil {
		t.Fatal(err)
	}
}
