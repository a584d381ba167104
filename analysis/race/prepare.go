package race

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/chance"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/shelter"
)

// Race is a field on a road, ready to be raced any number of times. It is immutable and
// may be shared.
type Race struct {
	ground *ground
	rules  Rules
	// entrants are in an order of their own, by what they are, so that the order in which
	// they were given never shows; index says which was given where.
	entrants []entrant
	index    []int
	// orders is how many all of them have.
	orders int
	// lines are the positions of the lines told, contested the lines raced for;
	// both are in order. lineOf says which line of the answer each is.
	lines     []float64
	contested []contest
	lineOf    []int
	startMps  float64
	lee       *shelter.Table
	// nearest is what the wheel ahead takes off the drag at close riding.
	nearest float64
}

// entrant is an entrant in the numbers that count in the race.
type entrant struct {
	body
	reserve ride.Reserve
	// maxPowerW is NaN where it isn't known.
	maxPowerW float64
	steps     []ride.Step
	orders    []Order
	// firstOrder is the place of the first of them among those of all.
	firstOrder int
	key        uint64
}

// New prepares a race. The road's start speed is that of the field; entrants need
// critical power and W′, and steps that give their power everywhere. lines are the
// positions whose crossings are told, horizontal, in any order. Errors are *ride.Error:
// CodeNeedsCriticalPower, CodeInvalid, and those of ride.NewBike.
func New(road *ride.Road, entrants []Entrant, lines []float64, rules Rules) (*Race, error) {
	if err := rules.validate(); err != nil {
		return nil, err
	}
	if len(entrants) == 0 {
		return nil, invalid("a race needs an entrant")
	}
	r := &Race{ground: newGround(road), rules: rules, lee: shelter.NewTable(len(entrants)), nearest: 1 - shelter.Gap(0)}
	r.startMps = math.Sqrt(min(road.Conditions.StartSpeedMps*road.Conditions.StartSpeedMps, road.Pieces[0].StartLimit))
	made := make([]entrant, len(entrants))
	for i := range entrants {
		e, err := newEntrant(road, r.ground, &entrants[i])
		if err != nil {
			return nil, err
		}
		e.orders, err = r.ordersOf(road, entrants, i)
		if err != nil {
			return nil, err
		}
		e.key = keyOf(entrants, i)
		made[i] = e
	}
	r.arrange(made)
	r.lay(lines)
	return r, nil
}

func invalid(format string, args ...any) error {
	return &ride.Error{Code: ride.CodeInvalid, AtM: math.NaN(), Detail: fmt.Sprintf(format, args...)}
}

func (r Rules) validate() error {
	switch {
	case !(r.StepS > 0 && r.StepS <= 1):
		return invalid("a step of %v s is not above 0 and at most 1 s", r.StepS)
	case !(r.Abreast >= 1 && r.Abreast <= 10):
		return invalid("%v riders abreast are not between 1 and 10", r.Abreast)
	case !(r.FormPct >= 0 && r.FormPct <= 20), !(r.LaunchS >= 0 && r.LaunchS <= 60):
		return invalid("a form of %v %% or a launch of %v s spreads too far", r.FormPct, r.LaunchS)
	case !(r.MishapsPerH >= 0 && r.MishapsPerH <= 10), !(r.MishapS >= 0 && r.MishapS <= 3600):
		return invalid("%v mishaps an hour of %v s are too many or too long", r.MishapsPerH, r.MishapS)
	}
	return nil
}

func newEntrant(road *ride.Road, g *ground, e *Entrant) (entrant, error) {
	bike, err := ride.NewBike(e.Rider, e.Setup, road.Conditions)
	if err != nil {
		return entrant{}, err
	}
	reserve, ok := ride.NewReserve(e.Rider)
	switch {
	case !ok:
		return entrant{}, &ride.Error{Code: ride.CodeNeedsCriticalPower, AtM: math.NaN(), Detail: "a race needs each rider's critical_power_w and w_prime_j"}
	case reserve.Law == ride.Integral2012:
		return entrant{}, invalid("the law %s needs the whole ride before it tells any of it; choose another", reserve.Law)
	case e.Rider.MaxPowerW < e.Rider.CriticalPowerW:
		return entrant{}, invalid("the maximal power of %v W is below the critical power of %v W", e.Rider.MaxPowerW, e.Rider.CriticalPowerW)
	case len(e.Steps) == 0:
		return entrant{}, invalid("an entrant has no effort")
	}
	steps := slices.Clone(e.Steps)
	for i := range steps {
		if !math.IsInf(steps[i].EndM, 1) {
			steps[i].EndM = g.along(min(steps[i].EndM, road.LengthM()))
		}
	}
	steps[len(steps)-1].EndM = math.Inf(1)
	return entrant{
		body: body{
			weight: bike.MassKg * gravity, inertia: bike.InertiaKg, drag: bike.DragAreaM2, crr: bike.Crr,
			bearing: bike.BearingN, bearingPerMps: bike.BearingNsPerM, efficiency: bike.Efficiency,
		},
		reserve: reserve, maxPowerW: e.Rider.MaxPowerW, steps: steps,
	}, nil
}

// ordersOf returns the orders of an entrant with positions along the road. For still
// counts entrants as they were given.
func (r *Race) ordersOf(road *ride.Road, entrants []Entrant, i int) ([]Order, error) {
	orders := slices.Clone(entrants[i].Orders)
	for k := range orders {
		o := &orders[k]
		switch o.Kind {
		case ShareWork, SitIn:
			continue
		case Attack, Save, Sprint:
		case LeadOut:
			if o.For < 0 || o.For >= len(entrants) || o.For == i {
				return nil, invalid("entrant %d can't lead out entrant %d", i, o.For)
			}
		default:
			return nil, invalid("%q is no order", o.Kind)
		}
		if !(o.AtM >= 0 && o.AtM <= road.LengthM()) {
			return nil, invalid("an order at %v m isn't on the road", o.AtM)
		}
		o.AtM = r.ground.along(o.AtM)
	}
	return orders, nil
}

// keyOf names an entrant: by the name where nobody else has it, so that luck stays the same
// when a power, a set-up or an order changes; else by all that he is and does.
func keyOf(entrants []Entrant, i int) uint64 {
	e := &entrants[i]
	if e.Rider.Name != "" && sharing(entrants, e.Rider.Name) == 1 {
		return chance.Name(e.Rider.Name)
	}
	text := fmt.Sprintf("%+v|%+v|%s|%v", e.Rider, e.Setup, e.Team, e.Steps)
	for _, o := range e.Orders {
		text += fmt.Sprintf("|%s %v %v %v", o.Kind, o.AtM, o.ForS, o.FromM)
		if o.Kind == LeadOut && o.For >= 0 && o.For < len(entrants) {
			text += fmt.Sprintf(" %+v", entrants[o.For].Rider)
		}
	}
	return chance.Name(text)
}

// sharing counts the entrants of a name.
func sharing(entrants []Entrant, name string) int {
	n := 0
	for i := range entrants {
		if entrants[i].Rider.Name == name {
			n++
		}
	}
	return n
}

// arrange puts the entrants in the order of their keys; those that are the same stay in
// the order that they were given in.
func (r *Race) arrange(made []entrant) {
	r.index = make([]int, len(made))
	for i := range r.index {
		r.index[i] = i
	}
	slices.SortStableFunc(r.index, func(a, b int) int { return cmp.Compare(made[a].key, made[b].key) })
	place := make([]int, len(made))
	r.entrants = make([]entrant, len(made))
	for k, i := range r.index {
		r.entrants[k] = made[i]
		place[i] = k
		if k > 0 && made[i].key == made[r.index[k-1]].key {
			r.entrants[k].key = r.entrants[k-1].key + 1 // a rider of the same kind has luck of their own
		}
	}
	for k := range r.entrants {
		r.entrants[k].firstOrder = r.orders
		r.orders += len(r.entrants[k].orders)
		for o := range r.entrants[k].orders {
			order := &r.entrants[k].orders[o]
			if order.Kind == LeadOut {
				order.For = place[order.For]
			}
		}
	}
}

// lay puts the lines on the road.
func (r *Race) lay(lines []float64) {
	r.lineOf = make([]int, len(lines))
	for i := range lines {
		r.lineOf[i] = i
	}
	slices.SortStableFunc(r.lineOf, func(a, b int) int { return cmp.Compare(lines[a], lines[b]) })
	for _, l := range r.lineOf {
		r.lines = append(r.lines, r.ground.along(lines[l]))
	}
	for _, at := range r.rules.Lines {
		r.addContest(r.ground.along(at), true)
	}
	for k := range r.entrants {
		for _, o := range r.entrants[k].orders {
			if o.Kind == Sprint || o.Kind == LeadOut {
				r.addContest(o.AtM, false)
			}
		}
	}
	slices.SortFunc(r.contested, func(a, b contest) int { return cmp.Compare(a.at, b.at) })
	r.contested = append(r.contested, contest{r.ground.length, true})
}

// contest is a line that is raced for: by all where it is open, else by those who are told
// to.
type contest struct {
	at   float64
	open bool
}

// addContest adds a line that is raced for, unless it is there already or is the finish.
func (r *Race) addContest(at float64, open bool) {
	if at >= r.ground.length-sameLineM {
		return
	}
	if !slices.ContainsFunc(r.contested, func(c contest) bool { return math.Abs(c.at-at) <= sameLineM }) {
		r.contested = append(r.contested, contest{at, open})
	}
}

// sameLineM is the distance in metres within which a contested line is the finish.
const sameLineM = 1.0
