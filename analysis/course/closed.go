package course

import (
	"fmt"
	"math"

	"parcours.example/analysis/geodesy"
)

// widestOpening is the share of a lap's length that its ends may be apart at most: beyond
// it a line is no lap.
const widestOpening = 0.25

// closed returns the strip as a lap that ends exactly where it starts, and what was
// done for that: it is cut if it runs past its start, a gap is closed and a
// misfit of the elevation is spread evenly.
func (r strip) closed() (strip, []Warning, *misjoin) {
	var q Quality
	if end := r.overlap(r); end < r.lengthM() {
		q.warn("lap-overlap", end, "the lap runs %.0f m past its start; that was cut off", r.lengthM()-end)
		r = r.cut(0, end)
	}
	gap := r.gapTo(r)
	if limit := min(maxGapM, widestOpening*r.lengthM()); gap > limit {
		return r, nil, &misjoin{limit: limit, actual: gap}
	}
	if gap >= saidGapM {
		q.warn("lap-closed", r.lengthM(), "the ends of the lap are %.0f m apart and were joined", gap)
	}
	aside, all := r.aside(r)
	r = r.bent(geodesy.Vec{}, aside, bentOver*aside.Norm()).copied()
	if all {
		r.pos[r.last()] = r.pos[0]
	}
	r.end()
	bad := r.levelled(&q)
	return r, q.Warnings, bad
}

// end ends the strip at its start, over a straight joint where there is a gap.
func (r *strip) end() {
	if r.pos == nil {
		return
	}
	gap := r.gapTo(*r)
	if gap <= cutTolerance {
		r.pos[r.last()] = r.pos[0]
		return
	}
	rise := r.riseTo(*r)
	r.s, r.pos = append(r.s, r.lengthM()+gap), append(r.pos, r.pos[0])
	if r.z != nil {
		r.z = append(r.z, r.z[len(r.z)-1]+rise)
	}
	r.turn(r.turning[:1], gap)
	r.turning = r.turning[:len(r.turning)-1] // that of the gap stays
}

// levelled makes the elevation end where it starts.
func (r *strip) levelled(q *Quality) *misjoin {
	misfit := r.misfitTo(*r)
	limit := max(freeMisfitM, maxMisfitGradient*r.lengthM())
	if math.Abs(misfit) > limit {
		return &misjoin{height: true, limit: limit, actual: math.Abs(misfit)}
	}
	if misfit == 0 {
		return nil
	}
	for i := range r.z {
		r.z[i] += float64(misfit * r.s[i] / r.lengthM())
	}
	r.z[r.last()] = r.z[0]
	if math.Abs(misfit) >= saidMisfitM {
		q.warn("lap-elevation-spread", math.NaN(), "the lap ends %.1f m %s than it starts; the difference is spread over the lap", math.Abs(misfit), lowerOrHigher(misfit))
	}
	return nil
}

// notClosing is the refusal of laps for the reason that a joint gives.
func notClosing(m *misjoin) *Error {
	return &Error{
		Code: CodeLapsDoNotClose, Limit: m.limit, Actual: m.actual,
		Detail: fmt.Sprintf("the line can't be ridden as laps: %s", m.told("the lap", "it")),
	}
}
