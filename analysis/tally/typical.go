package tally

// keptRuns is how many runs' places are kept to choose the typical one from.
const keptRuns = 64

// typical finds the run that is most like the mean.
type typical struct {
	places []moments // of each entrant
	kept   []int64   // twice the places of the first runs, run by run
	known  [keptRuns]bool
	now    []int64 // work space
}

func newTypical(n int) typical {
	return typical{places: make([]moments, n), kept: make([]int64, keptRuns*n), now: make([]int64, n)}
}

func (t *typical) add(run int, o *order) {
	o.doubledPlaces(t.now)
	for i, p := range t.now {
		t.places[i].addThousandths(500 * p)
	}
	if run < keptRuns {
		t.known[run] = true
		copy(t.kept[run*len(t.now):], t.now)
	}
}

func (t *typical) merge(other *typical) {
	for i := range t.places {
		t.places[i].merge(other.places[i])
	}
	for run, known := range other.known {
		if known {
			n := len(t.now)
			t.known[run] = true
			copy(t.kept[run*n:(run+1)*n], other.kept[run*n:(run+1)*n])
		}
	}
}

// run returns the number of the typical run. Distances are compared as whole numbers,
// multiplied by the number of runs.
func (t *typical) run() int {
	best, least := -1, uint64(0)
	for run, known := range t.known {
		if !known {
			continue
		}
		distance := uint64(0)
		for i, p := range t.places {
			distance += magnitude(500*t.kept[run*len(t.places)+i]*p.n - p.sum)
		}
		if best < 0 || distance < least {
			best, least = run, distance
		}
	}
	return best
}
