package race

import "math"

// Who goes with an attack.
const (
	// seenM is how far ahead and behind an attack is answered.
	seenM = 30.0
	// answering and sittersAnswering are the shares of those who do.
	answering, sittersAnswering = 0.3, 0.15
)

// obey sets what a rider's orders ask for here.
func (x *field) obey(r *rider) {
	orders := x.entrants[r.entrant].orders
	r.saving, r.spending, r.leading = false, false, false
	for i := range orders {
		o := &orders[i]
		switch o.Kind {
		case Save:
			r.saving, r.spending = r.s < o.AtM, r.s >= o.AtM
		case LeadOut:
			protected := &x.riders[o.For]
			r.leading = r.s >= o.AtM-o.FromM && r.s < o.AtM-leadEndsM && math.Abs(protected.s-r.s) < letGoM && r.balance > leastToWork*r.wPrime
		case Attack:
			if r.s >= o.AtM && r.done&(1<<i) == 0 {
				r.done |= 1 << i
				x.attack(r, o)
			}
		}
	}
}

// attack starts an attack and lets others answer it.
func (x *field) attack(r *rider, o *Order) {
	r.attacking = o.ForS
	x.happened(Attacked, r)
	for _, i := range x.order {
		other := &x.riders[i]
		if other == r || math.Abs(other.s-r.s) > seenM || other.attacking > 0 || other.saving || other.leading {
			continue
		}
		luck := x.draw(i, luckOfResponse, x.entrants[r.entrant].key, uint64(o.AtM))
		share := answering
		if other.does == SitIn {
			share = sittersAnswering
		}
		if luck.Uniform() < share {
			other.responding = o.ForS
		}
	}
}

// leadOutOf is the lead-out that a rider is on.
func (x *field) leadOutOf(r *rider) *Order {
	orders := x.entrants[r.entrant].orders
	for i := range orders {
		if o := &orders[i]; o.Kind == LeadOut && r.s >= o.AtM-o.FromM && r.s < o.AtM {
			return o
		}
	}
	return nil
}
