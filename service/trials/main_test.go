// Package trials holds what deploy/RELIABILITY.md promises against real processes of the
// service, real Redis servers and real connections. Each trial is a test named for its number,
// TestT09…, reports its figure through internal/figures, has a short form that a default run
// takes, and its full form with PARCOURS_FULL=1.
package trials

import (
	"os"
	"testing"

	"parcours.example/internal/replica"
)

func TestMain(m *testing.M) { os.Exit(replica.Main(m)) }
