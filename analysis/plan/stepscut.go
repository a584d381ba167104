package plan

import "math"

const (
	// mostSteps is how many steps a rider keeps in mind for one part.
	mostSteps = 12
	// shortestStepS is the time below which a step can't be followed, shortestStartS that of
	// the first one, which is a burst and needs no look at a meter.
	shortestStepS, shortestStartS = 30.0, 3.0
	// stepShare is the share of a part's time that one more step must gain, and
	// unseenShare what it must gain beside if it starts where there is nothing to see.
	stepShare, unseenShare = 5e-5, 1.5e-4
)

// edge is a place where a step may start or end.
type edge struct {
	// share is its place in the part, 0…1.
	share float64
	// seen is true where a rider can see it.
	seen bool
	// starts is true for the start of the ride.
	starts bool
	// sum is the loss from the part's start to here, over all parts cut alike.
	sum lossSum
	// limitW is the rider's limit here.
	limitW float64
}

// cut is the best way to reach an edge in a number of steps.
type cut struct {
	cost float64
	from int
}

// bestCut returns the indices of the edges, first and last included, between which one
// power each loses least, by dynamic programming over the edges and the number of steps.
func (l *loss) bestCut(edges []edge) []int {
	n, whole := len(edges), edges[len(edges)-1].sum.timeS
	seenFee, unseenFee := float64(stepShare*whole), float64((stepShare+unseenShare)*whole)
	best := make([][mostSteps + 1]cut, n)
	for j := range best {
		for k := range best[j] {
			best[j][k] = cut{cost: math.Inf(1)}
		}
	}
	best[0][0].cost = 0
	for j := 1; j < n; j++ {
		fee := seenFee
		if !edges[j].seen {
			fee = unseenFee
		}
		for i := range j {
			step := edges[j].sum.plus(edges[i].sum, -1)
			if step.timeS < shortestStepS && (i > 0 || j < n-1) && !(edges[i].starts && step.timeS >= shortestStartS) {
				break
			}
			cost := l.cost(step, edges[j].limitW)
			for k := range mostSteps {
				if c := best[i][k].cost + cost + fee; c < best[j][k+1].cost-1e-9 {
					best[j][k+1] = cut{c, i}
				}
			}
		}
	}
	k := 1
	for more := 2; more <= mostSteps; more++ {
		if best[n-1][more].cost < best[n-1][k].cost {
			k = more
		}
	}
	at := make([]int, k+1)
	for j := n - 1; k > 0; k-- {
		at[k] = j
		j = best[j][k].from
	}
	return at
}
