package ride

import (
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
)

// cases returns how many cases of full to run: all with PARCOURS_FULL=1, a twentieth
// otherwise, and fewer still with -short.
func cases(full int) int {
	switch {
	case os.Getenv("PARCOURS_FULL") == "1":
		return full
	case testing.Short():
		return max(1, full/50)
	}
	return max(1, full/20)
}

// firstSeed returns the seed of the first case: PARCOURS_SEED if given, else a fresh
// one in a full run and a fixed one otherwise. It is printed.
func firstSeed(t *testing.T) uint64 {
	t.Helper()
	seed := uint64(20260)
	if given, err := strconv.ParseUint(os.Getenv("PARCOURS_SEED"), 10, 64); err == nil {
		seed = given
	} else if os.Getenv("PARCOURS_FULL") == "1" {
		seed = uint64(rand.Uint32())
	}
	t.Logf("PARCOURS_SEED=%d", seed)
	return seed
}
