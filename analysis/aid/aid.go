// Package aid finds where on a course a short-lived aid gains most: less drag or less mass
// for some seconds, or a wake that shelters nobody.
//
// A ride is ridden on from the place of a use on the changed bike, then on its own until
// the speed is that of the plain ride again: from there on the time gained stays. This is
// the one motion model of package ride at the power that is asked at each place, so that
// freewheeling, bends and brakes count as in any ride. A change of mass keeps the speed.
//
// What is supposed beside it:
//   - An aid whose passes are told is earned by each of them, one at a time: who holds one
//     earns none, of whatever kind. Where a pass offers several, the one that suits is
//     taken. Aids without passes are in hand at the start, beside the one that is held.
//   - Aids don't work at the same time: one is used when the one before has ended.
//   - The follower who is denied shelter is a rider alike on a like set-up.
package aid

import (
	"math"

	"parcours.example/analysis/ride"
)

// Aid is a change that lasts for a short time from its use on.
type Aid struct {
	Name string
	// DragFactor multiplies what meets the air, above 0; 1 for no change.
	DragFactor float64
	// MassChangeKg is added to the mass that is moved; 0 for no change.
	MassChangeKg float64
	// WakeFactor is how much of the shelter behind its user is left to who follows: 1 for
	// all of it, 0 for none.
	WakeFactor float64
	// DurationS is how long it lasts, in seconds, above 0.
	DurationS float64
	// EarnedM are the places on the road, in order, of the passes that earn it; empty for an
	// aid in hand at the start.
	EarnedM []float64
}

// Moves reports whether the aid changes the motion of its user.
func (a *Aid) Moves() bool { return a.DragFactor != 1 || a.MassChangeKg != 0 }

// Denies reports whether the aid takes shelter from who follows.
func (a *Aid) Denies() bool { return a.WakeFactor != 1 }

// FirstM is the place from which on somebody may have the aid.
func (a *Aid) FirstM() float64 {
	if len(a.EarnedM) == 0 {
		return 0
	}
	return a.EarnedM[0]
}

// on returns the bike with the aid at work.
func (a *Aid) on(b ride.Bike) ride.Bike {
	b.CdAM2 *= a.DragFactor
	b.DragAreaM2 *= a.DragFactor
	b.MassKg += a.MassChangeKg
	b.InertiaKg += a.MassChangeKg
	return b
}

// Scene is a ride on which aids are used, and what they are used for. Positions are on the
// road.
type Scene struct {
	Road *ride.Road
	// Ride was ridden over Road, and has its trace.
	Ride *ride.Ride
	// LineM is where gains are taken, FromM where the time begins: 0, or the start of the
	// stretch that LineM ends. Both are ends of the road or of the ride's spans.
	FromM, LineM float64
	// GapM is that between the wheels of the user and who follows, in metres.
	GapM float64
}

// Use is an aid used at a place.
type Use struct {
	// AtM is the place, EndsM where the aid ends or, while it still works there, the line.
	AtM, EndsM float64
	// ClockS and SpeedMps are those of the ride at AtM.
	ClockS, SpeedMps float64
	// GainS is the time gained at the scene's line, in seconds; negative for a loss.
	GainS float64
	// Follower is what it does to who follows; nil for an aid that denies no shelter.
	Follower *Follower
}

// gradeS is the difference of gains in seconds below which the earlier place is the better
// one: where the course is the same for long, rounding must not choose.
const gradeS = 1e-5

// graded is the value in steps of gradeS.
func (u *Use) graded() float64 { return math.Round(u.Value()/gradeS) * gradeS }

// Value is what a use is worth in seconds: the time gained, or for an aid that only denies
// shelter the time that a follower loses.
func (u *Use) Value() float64 {
	if u.GainS == 0 && u.Follower != nil {
		return u.Follower.LostS
	}
	return u.GainS
}
