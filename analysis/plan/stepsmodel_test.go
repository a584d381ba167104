package plan

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/ride"
)

// The response of a ride is that of the motion model itself, for small changes.
func TestResponseIsThatOfTheRide(t *testing.T) {
	road := mustRoad(t, even(6_000, 10, func(s float64) float64 { return 12 * math.Sin(s/250) }), conditions())
	for _, law := range []ride.RecoveryLaw{ride.Proportional, ride.Bartram2018} {
		r := capable(260, 15_000)
		r.RecoveryLaw = law
		tk, err := newTask(road, r, setup(), Unlimited())
		if err != nil {
			t.Fatal(err)
		}
		ends, powers := []float64{900, 2_300, 3_100, 6_000}, []float64{380, 200, 330, 215}
		ridden := func(step int, more float64) *ride.Ride {
			steps := make([]ride.Step, len(ends))
			for i := range steps {
				steps[i] = ride.Step{EndM: ends[i], PowerW: powers[i]}
			}
			steps[step].PowerW += more
			got, err := tk.simulate(t.Context(), steps, nil)
			if err != nil {
				t.Fatal(err)
			}
			return got
		}
		plain := ridden(0, 0)
		resp := tk.respond(plain, []ride.Step{{EndM: 900, PowerW: 380}, {EndM: 2_300, PowerW: 200}, {EndM: 3_100, PowerW: 330}, {EndM: 6_000, PowerW: 215}})
		into := resp.steps(ends)
		same := []int{0, 1, 2, 3}
		times := resp.sum(resp.timeBy(), into, same, 4)
		over, under := resp.balanceBy(len(resp.reaches))
		spent, saved := resp.sum(over, into, same, 4), resp.sum(under, into, same, 4)
		for i := range ends {
			less, more := ridden(i, -0.5), ridden(i, 0.5)
			if want := more.TimeS - less.TimeS; math.Abs(times[i]-want) > 0.01*math.Abs(want) {
				t.Errorf("%s: a watt on step %d changes the time by %v s, by the model %v s", law, i+1, want, times[i])
			}
			by := spent[i]
			if powers[i] < 260 {
				by = saved[i]
			}
			if want := more.Balance.EndJ - less.Balance.EndJ; math.Abs(by-want) > 0.02*math.Abs(want) {
				t.Errorf("%s: a watt on step %d changes the balance by %v J, by the model %v J", law, i+1, want, by)
			}
		}
	}
}

// The loss foretells what holding one power costs, where it changes a little from an
// optimal plan: on hills that the plan takes with moderately different powers.
func TestLossIsOfTheSizeOfWhatIsLost(t *testing.T) {
	road := mustRoad(t, even(20_000, 20, func(s float64) float64 { return 8 * math.Sin(s/400) }), conditions())
	r := capable(260, 20_000)
	p, err := Optimise(t.Context(), road, r, setup(), Unlimited(), nil)
	if err != nil {
		t.Fatal(err)
	}
	tk, err := newTask(road, r, setup(), Unlimited())
	if err != nil {
		t.Fatal(err)
	}
	h := &holding{task: tk, most: tk.highest()}
	l := h.loss(p)
	edges := l.edges(group(sections(nil, road.LengthM())))
	at, foretold := l.bestCut(edges), 0.0
	for k := 1; k < len(at); k++ {
		foretold += l.cost(edges[at[k]].sum.plus(edges[at[k-1]].sum, -1), edges[at[k]].limitW)
	}
	held, err := Hold(t.Context(), road, r, setup(), Unlimited(), p, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	lost := held.Ride.TimeS - p.Ride.TimeS
	t.Logf("foretold %.2f s, lost %.2f s of %.0f s; constant power loses %.2f s", foretold, lost, p.Ride.TimeS, p.Constant.TimeS-p.Ride.TimeS)
	if lost < 0.4*foretold || lost > 3*foretold {
		t.Errorf("foretold %v s, lost %v s", foretold, lost)
	}
}

// Dynamic programming finds what trying all cuts finds.
func TestBestCutIsTheBestOfAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 9).Draw(t, "edges")
		l := &loss{most: 1000, thresholdW: 250}
		edges := make([]edge, n)
		edges[0].seen = true
		for i := 1; i < n; i++ {
			power, curb := rapid.Float64Range(0, 600).Draw(t, "power"), rapid.Float64Range(1e-6, 1e-3).Draw(t, "curb")
			kink := rapid.Float64Range(0, 0.01).Draw(t, "kink")
			g := lossSum{curb: curb, pull: curb * power, fixed: curb * power * power, timeS: rapid.Float64Range(5, 60).Draw(t, "time"), under: -kink}
			if power < 250 {
				g.over, g.under = kink, 0
			}
			edges[i] = edge{share: float64(i) / float64(n-1), seen: i == n-1 || rapid.Bool().Draw(t, "seen"), limitW: 1000, sum: edges[i-1].sum.plus(g, 1)}
		}
		got, best := l.costOf(edges, l.bestCut(edges)), math.Inf(1)
		for inner := range 1 << (n - 2) {
			at := []int{0}
			for i := 1; i < n-1; i++ {
				if inner&(1<<(i-1)) != 0 {
					at = append(at, i)
				}
			}
			best = min(best, l.costOf(edges, append(at, n-1)))
		}
		if math.Abs(got-best) > 1e-6 {
			t.Errorf("%v by the cut, %v at best", got, best)
		}
	})
}

// costOf is what a cut costs, +Inf where a step is too short.
func (l *loss) costOf(edges []edge, at []int) float64 {
	sum, whole := 0.0, edges[len(edges)-1].sum.timeS
	for k := 1; k < len(at); k++ {
		step := edges[at[k]].sum.plus(edges[at[k-1]].sum, -1)
		if step.timeS < shortestStepS && len(at) > 2 {
			return math.Inf(1)
		}
		sum += l.cost(step, edges[at[k]].limitW) + stepShare*whole
		if !edges[at[k]].seen {
			sum += unseenShare * whole
		}
	}
	return sum
}

// The convex program's answer keeps to its bounds, and no change near it is better; of several
// bounds by no more than a few sweeps leave.
func TestTradeIsSolved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "powers")
		q, scale := &trade{dearest: 0.3}, 0.0
		number := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		for range n {
			q.gain = append(q.gain, number("gain", -0.5, -0.01))
			q.bend = append(q.bend, number("bend", 1e-3, 1e-2))
			q.least, q.most = append(q.least, number("least", -80, -10)), append(q.most, number("most", 10, 80))
			q.kink = append(q.kink, number("kink", -50, 50))
			k := len(q.gain) - 1
			scale += -q.gain[k] * (q.most[k] - q.least[k])
		}
		// As balances do, each bound depends on the powers up to a place.
		var over, under []float64
		reach := 0.0 // what the powers can change of the room
		for k := range n {
			seconds := number("seconds", 20, 60)
			over, under = append(over, -seconds), append(under, -seconds*number("share", 0.2, 1))
			reach += seconds * (q.most[k] - q.least[k])
		}
		for range rapid.IntRange(1, 3).Draw(t, "bounds") {
			b := bound{room: number("room", 0, 2000), over: make([]float64, n), under: make([]float64, n)}
			upTo := rapid.IntRange(1, n).Draw(t, "up to")
			copy(b.over, over[:upTo])
			copy(b.under, under[:upTo])
			q.bounds = append(q.bounds, b)
		}
		off := 0.003 * scale
		if len(q.bounds) > 1 {
			off = 0.1 * scale
		}
		d, _ := q.solve()
		value, short := q.valueOf(d)
		if short < -0.005*reach { // its prices are found one by one, to a tolerance
			t.Errorf("%v is short of room by %v", d, -short)
		}
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		for range 300 {
			e := make([]float64, n)
			for k := range e {
				e[k] = min(max(d[k]+10*(2*random.Float64()-1), q.least[k]), q.most[k])
			}
			if v, room := q.valueOf(e); room >= 0 && v < value-off {
				t.Fatalf("%v gives %v, %v gives %v", d, value, e, v)
			}
		}
	})
}

// valueOf is the objective of a change and the least room that it leaves.
func (q *trade) valueOf(d []float64) (value, room float64) {
	room = math.Inf(1)
	for k := range d {
		value += q.gain[k]*d[k] + q.bend[k]*d[k]*d[k]/2
	}
	for j := range q.bounds {
		left := q.bounds[j].room
		for k := range d {
			left += q.use(&q.bounds[j], k, d[k])
		}
		room = min(room, left)
	}
	return value, room
}

func TestLapsAreRiddenAlikeUnlessTheirPlansDiffer(t *testing.T) {
	laps := make([]section, 5)
	for i := range laps {
		laps[i].Place = Place{Of: OfPart, Kind: kindLap, Lap: i + 1, StartM: 1000 * float64(i), EndM: 1000 * float64(i+1)}
	}
	for name, c := range map[string]struct {
		last float64
		want int
	}{"all alike": {300, 1}, "the last one harder": {360, 2}} {
		l := &loss{most: 1000, thresholdW: 250, atM: []float64{0}, sums: make([]lossSum, 1)}
		for at := 10.0; at <= 5000; at += 10 {
			power := 250 + 50*math.Sin(at*2*math.Pi/1000)
			if at > 4000 {
				power += c.last - 300
			}
			l.atM = append(l.atM, at)
			l.sums = append(l.sums, l.sums[len(l.sums)-1].plus(lossSum{curb: 2e-6, pull: 2e-6 * power, fixed: 2e-6 * power * power, timeS: 1}, 1))
		}
		if groups := l.groups(laps); len(groups) != c.want || len(groups[0]) != 6-c.want {
			t.Errorf("%s: %d groups, the first of %d laps", name, len(groups), len(groups[0]))
		}
	}
}

func TestHoldingEndsWithItsContext(t *testing.T) {
	road := mustRoad(t, even(5_000, 10, func(s float64) float64 { return 12 * math.Sin(s/250) }), conditions())
	p, err := Optimise(t.Context(), road, capable(260, 15_000), setup(), Unlimited(), nil)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Hold(ctx, road, capable(260, 15_000), setup(), Unlimited(), p, nil, nil); err != context.Canceled {
		t.Errorf("got %v", err)
	}
}
