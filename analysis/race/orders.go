package race

import "math"

// Who goes with an attack.
const (
	// endedLead is the share of W′ with which a lead-out is over.
	endedLead = 0.05
	// seenM is how far ahead and behind an attack is answered.
	seenM = 30.0
	// answering and sittersAnswering are the shares of those who do.
	answering, sittersAnswering = 0.3, 0.15
)

// obey sets what a rider's orders ask for here.
func (x *field) obey(r *rider) {
	orders, done := x.entrants[r.entrant].orders, x.doneBy(r)
	r.saving, r.leading = false, false
	for i := range orders {
		o := &orders[i]
		switch o.Kind {
		case Save:
			r.saving, r.does = r.s < o.AtM, SitIn
			if !r.saving {
				r.does = ShareWork
			}
		case LeadOut:
			x.lead(r, o, &done[i])
		case Attack:
			if r.s >= o.AtM && !done[i] {
				done[i] = true
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

// doneBy tells which of a rider's orders were carried out.
func (x *field) doneBy(r *rider) []bool {
	e := &x.entrants[r.entrant]
	return x.done[e.firstOrder : e.firstOrder+len(e.orders)]
}

// lead goes on with a lead-out, or ends it.
func (x *field) lead(r *rider, o *Order, done *bool) {
	protected := &x.riders[o.For]
	if r.s < o.AtM-o.FromM || *done {
		return
	}
	r.leading = r.s < o.AtM-leadEndsM && math.Abs(protected.s-r.s) < letGoM && r.balance > endedLead*r.wPrime
	if r.leading {
		r.resting = turnS * mostMates
		if o.AtM > x.ground.length-sameLineM {
			r.resting = math.Inf(1) // the work is done
		}
		if protected.ledBy < 0 {
			protected.ledBy, protected.ledToM = r.entrant, o.AtM
		}
		return
	}
	*done = true
	if protected.ledBy == r.entrant {
		protected.ledBy = -1
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
