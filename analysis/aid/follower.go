package aid

import (
	"context"
	"math"
	"sort"

	"parcours.example/analysis/ride"
	"parcours.example/analysis/shelter"
)

// Follower is what an aid does to a rider alike who follows its user.
type Follower struct {
	// AddedW is the power that keeps the wheel, above what kept it before, as a mean over the
	// time that the aid works; AddedJ is its work.
	AddedW, AddedJ float64
	// OpensM is the gap that opens in that time to a follower who can give no more than
	// before at each place, LostS how much later than the user the follower is there. Who
	// comes to a halt is left there.
	OpensM, LostS float64
}

// The time of an aid is followed in at most mostSteps steps of at least leastStepS.
const (
	mostSteps  = 200
	leastStepS = 1.0
)

// second is what a rider does in one step of time.
type second struct {
	atM, fromMps, toMps, powerW, forS float64
}

// follower follows the user of the aid from a place on.
func (t *trial) follower(ctx context.Context, atM float64) (*Follower, error) {
	plain, err := t.steps(ctx, atM, &t.scene.Ride.Bike)
	if err != nil {
		return nil, err
	}
	aided, err := t.steps(ctx, atM, &t.bike)
	if err != nil || len(plain) == 0 || len(aided) == 0 {
		return &Follower{}, err
	}
	lee := shelter.Gap(t.scene.GapM)
	before, forS, f := t.kept(plain, lee), 0.0, Follower{}
	for _, s := range aided {
		forS += s.forS
		mid := s.atM - float64((s.fromMps+s.toMps)/4*s.forS)
		f.AddedJ += float64((t.needW(s, &t.bike, t.denied(lee)) - before.at(mid)) * s.forS)
	}
	f.AddedW = f.AddedJ / forS
	return &f, t.drop(ctx, atM, aided, before, &f)
}

// kept is the power that keeps the wheel of the plain ride, place by place.
type kept struct{ atM, powerW []float64 }

func (t *trial) kept(plain []second, lee float64) kept {
	var k kept
	for _, s := range plain {
		k.atM, k.powerW = append(k.atM, s.atM), append(k.powerW, t.needW(s, &t.scene.Ride.Bike, lee))
	}
	return k
}

// at is the power at a place; beyond the last that of the last.
func (k kept) at(atM float64) float64 {
	return k.powerW[min(sort.SearchFloat64s(k.atM, atM), len(k.powerW)-1)]
}

// denied is the drag behind the user over the drag alone where it would be lee.
func (t *trial) denied(lee float64) float64 { return 1 - float64(t.aid.WakeFactor*(1-lee)) }

// steps rides from a place on while the aid lasts, or to the road's end, and returns what is
// done step by step.
func (t *trial) steps(ctx context.Context, atM float64, bike *ride.Bike) ([]second, error) {
	w := t.walk
	if err := w.Seek(ctx, atM); err != nil {
		return nil, err
	}
	w.Mount(bike)
	n := int(min(max(math.Floor(t.aid.DurationS/leastStepS), 1), mostSteps))
	steps, startS := make([]second, 0, n), w.TimeS()
	for i := range n {
		s := second{fromMps: w.SpeedMps()}
		fromS, workJ := w.TimeS(), w.WorkJ()
		if err := w.Until(ctx, math.Inf(1), startS+float64(t.aid.DurationS*float64(i+1)/float64(n))); err != nil {
			return nil, err
		}
		if s.forS = w.TimeS() - fromS; s.forS < justS {
			break
		}
		s.atM, s.toMps, s.powerW = w.AtM(), w.SpeedMps(), (w.WorkJ()-workJ)/s.forS
		steps = append(steps, s)
	}
	return steps, nil
}

// needW returns the power that keeps the wheel of one who does a step on a bike, for a
// rider on the ride's own bike with a share of its drag; 0 where the brakes do.
func (t *trial) needW(s second, led *ride.Bike, drag float64) float64 {
	bike := t.scene.Ride.Bike
	bike.DragAreaM2 *= drag
	v := float64((s.fromMps + s.toMps) / 2)
	piece := t.pieceAt(s.atM - float64(v*s.forS/2))
	moreN := bike.ForceOn(piece, v) - led.ForceOn(piece, v)
	gathered := (bike.InertiaKg - led.InertiaKg) * (float64(s.toMps*s.toMps) - float64(s.fromMps*s.fromMps)) / (2 * s.forS)
	return max(s.powerW+(float64(moreN*v)+gathered)/bike.Efficiency, 0)
}

// pieceAt returns the piece of the road at a position.
func (t *trial) pieceAt(atM float64) *ride.Piece {
	pieces := t.scene.Road.Pieces
	i := sort.Search(len(pieces), func(i int) bool { return pieces[i].EndM > atM })
	return &pieces[min(i, len(pieces)-1)]
}

// drop lets a follower give no more than before, and tells the gap that opens.
func (t *trial) drop(ctx context.Context, atM float64, led []second, before kept, f *Follower) error {
	w, bike := t.walk, t.scene.Ride.Bike
	if err := w.Seek(ctx, atM); err != nil {
		return err
	}
	alone, startS := bike.DragAreaM2, w.TimeS()
	ledM, ledS := []float64{atM}, []float64{startS}
	for i, s := range led {
		bike.DragAreaM2 = float64(alone * t.denied(shelter.Gap(t.scene.GapM+f.OpensM)))
		w.Mount(&bike)
		w.Ask(before.at(w.AtM() + sameM))
		ledM, ledS = append(ledM, s.atM), append(ledS, ledS[i]+s.forS)
		err := w.Until(ctx, math.Inf(1), ledS[i+1])
		f.OpensM = max(s.atM-w.AtM(), 0)
		f.LostS = max(ledS[i+1]-between(ledS, ledM, w.AtM()), 0)
		if err != nil {
			return ctx.Err() // else it is a halt
		}
	}
	return nil
}
