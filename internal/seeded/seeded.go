// Package seeded says how many random cases a statistical test runs, and from which seed
// on. Nothing that ships imports it.
package seeded

import (
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
)

// standardSeed is where runs begin that aren't told otherwise.
const standardSeed = 20260

func inFull() bool { return os.Getenv("PARCOURS_FULL") == "1" }

// Cases returns how many of a full number of cases to run: all with PARCOURS_FULL=1, else
// a twentieth, with -short a fiftieth; at least one.
func Cases(full int) int {
	switch {
	case inFull():
		return full
	case testing.Short():
		return max(1, full/50)
	}
	return max(1, full/20)
}

// First returns the seed of the first case: PARCOURS_SEED if given, else a fresh one in a
// full run and a fixed one otherwise. It is logged, so that a failing case reproduces.
func First(t testing.TB) uint64 {
	t.Helper()
	seed := uint64(standardSeed)
	if given, err := strconv.ParseUint(os.Getenv("PARCOURS_SEED"), 10, 64); err == nil {
		seed = given
	} else if inFull() {
		seed = uint64(rand.Uint32())
	}
	t.Logf("PARCOURS_SEED=%d", seed)
	return seed
}
