package ridden

import (
	"math"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/recording"
)

// anchor is a sample of the ride that is matched by itself. Those between are laid
// between their anchors.
type anchor struct {
	sample int
	pos    xy
	// heading is the way from the anchor before to the one after.
	heading xy
	// wayM is the way in metres since the anchor before, dt the time in seconds; unsure
	// says that nothing is known of the ride on a part of it.
	wayM, dt float64
	unsure   bool
}

// A position that is nearer to the last one than jitterM tells of no way. Anchors are
// about anchorM apart, on
// the longest rides farther: there are about mostAnchors at most.
const (
	jitterM     = 8.0
	anchorM     = 25.0
	mostAnchors = 8000
)

// anchorsOf chooses the anchors of a ride: the first and the last sample with a position,
// and one every anchorM between.
func anchorsOf(l *line, samples []recording.Sample) []anchor {
	var anchors []anchor
	apart := max(anchorM, wayOf(samples)/mostAnchors)
	w := walker{last: -1}
	for i := range samples {
		if !samples[i].HasPosition {
			w.unsure = w.unsure || samples[i].Broken
			continue
		}
		w.to(samples, i)
		if len(anchors) > 0 && w.wayM < apart && i+1 < len(samples) {
			continue
		}
		a := anchor{sample: i, pos: l.of(samples[i].Pos)}
		if n := len(anchors); n > 0 {
			a.wayM, a.dt, a.unsure = w.wayM, samples[i].TimeS-samples[anchors[n-1].sample].TimeS, w.unsure
		}
		anchors = append(anchors, a)
		w.wayM, w.unsure = 0, false
	}
	for k := range anchors {
		anchors[k].heading = anchors[min(k+1, len(anchors)-1)].pos.sub(anchors[max(k-1, 0)].pos)
	}
	return anchors
}

// wayOf is the length of a ride in metres.
func wayOf(samples []recording.Sample) float64 {
	w := walker{last: -1}
	for i := range samples {
		if samples[i].HasPosition {
			w.to(samples, i)
		}
	}
	return w.wayM
}

// walker measures the way of a ride: by the device's count where it has one, else by
// positions far enough from each other.
type walker struct {
	last   int // sample up to which the way is measured; −1 before the first
	wayM   float64
	unsure bool
}

// measure takes in sample i if it tells of the way.
func (w *walker) measure(samples []recording.Sample, i int) {
	if samples[i].HasPosition || !math.IsNaN(samples[i].DistanceM) {
		w.to(samples, i)
	}
}

func (w *walker) to(samples []recording.Sample, i int) {
	w.unsure = w.unsure || samples[i].Broken
	if w.last < 0 {
		w.last = i
		return
	}
	a, b := &samples[w.last], &samples[i]
	if d := b.DistanceM - a.DistanceM; d >= 0 {
		w.wayM += d
		w.last = i
		return
	}
	if d := geodesy.Chord(a.Pos, b.Pos); d > jitterM && a.HasPosition && b.HasPosition {
		w.wayM += d
		w.last = i
	}
}
