package ridden

import (
	"context"
	"math"

	"parcours.example/analysis/course"
	"parcours.example/analysis/recording"
)

// Options say what of a recording is laid.
type Options struct {
	// TrimStartM and TrimEndM leave out what was ridden in the first and the last metres
	// of the recording, TrimStartS and TrimEndS in its first and last seconds, so that
	// it doesn't show where somebody lives. Of both the larger counts.
	TrimStartM, TrimEndM, TrimStartS, TrimEndS float64
}

// Lay lays a recording on a course: by its positions where half of its samples or more
// and the course have them, else by its distances. What lies before the start, after the
// finish and away from the course is left out. A part of the course is enough; notes
// tell what is missing.
//
// Speeds are estimated from those that the device shows, scaled to the course, or where
// it shows none, from the places of its positions along the course; a model of a speed
// that wanders joins them with the places, and the error that it leaves is given. At a
// standing start the start is when the rider moves off who stands up to 25 m before it.
//
// Errors are *Error, or the context's.
func Lay(ctx context.Context, c *course.Course, r *recording.Recording, opt Options) (*Ride, error) {
	samples := trimmed(r.Samples, opt)
	if len(samples) < 2 {
		return nil, tooShort()
	}
	l := layer{course: c, samples: samples, ride: &Ride{Scale: 1, Deviation: none(), Notes: append([]recording.Note(nil), r.Notes...)}}
	if err := l.place(ctx); err != nil {
		return nil, err
	}
	l.useSpeeds()
	l.move()
	if !l.finish() {
		return nil, tooShort()
	}
	return l.ride, nil
}

func tooShort() *Error {
	return &Error{Code: CodeTooShort, AwayM: math.NaN(), Detail: "Fewer than two samples of the recording are left on the course; trim less of its start and end, or send the whole recording."}
}

// layer is a ride on its way onto a course.
type layer struct {
	course  *course.Course
	samples []recording.Sample
	// runs are stretches of the ride of which all is known.
	runs [][]reading
	// offM are the distances of the readings' positions from the course, by sample.
	offM []float64
	// derived says that speeds are those of places, for want of others.
	derived bool
	ride    *Ride
}

func none() Deviation {
	return Deviation{MedianM: math.NaN(), P95M: math.NaN(), LargestM: math.NaN(), LargestAtM: math.NaN()}
}

// place finds where on the course each sample is.
func (l *layer) place(ctx context.Context) error {
	placed := 0
	for i := range l.samples {
		if l.samples[i].HasPosition {
			placed++
		}
	}
	if l.course.HasPositions() && 2*placed >= len(l.samples) {
		return l.placeByPosition(ctx)
	}
	return l.placeByDistance()
}

// start begins a run of readings.
func (l *layer) start() { l.runs = append(l.runs, nil) }

// add adds a reading to the last run.
func (l *layer) add(sample int, atM float64) {
	run := &l.runs[len(l.runs)-1]
	*run = append(*run, reading{timeS: l.samples[sample].TimeS, atM: atM, speedMPS: math.NaN(), sample: sample})
}

// placeByPosition matches the positions.
func (l *layer) placeByPosition(ctx context.Context) error {
	line := newLine(l.course)
	anchors := anchorsOf(line, l.samples)
	fixes, err := match(ctx, line, anchors)
	if err != nil {
		return err
	}
	if err := l.onCourse(line, anchors, fixes); err != nil {
		return err
	}
	l.offM = make([]float64, len(l.samples))
	for k := range fixes {
		from := anchors[fixes[k].anchor].sample
		if k == 0 || fixes[k].rejoins {
			l.start()
			l.see(line, from, &anchors[fixes[k].anchor], &fixes[k], &fixes[k])
			continue
		}
		for i := anchors[fixes[k-1].anchor].sample + 1; i <= from; i++ {
			if l.samples[i].Broken {
				l.start()
			}
			l.see(line, i, &anchors[fixes[k].anchor], &fixes[k-1], &fixes[k])
		}
	}
	return nil
}

// see adds sample i, which lies between two fixes, the later of them that of an anchor.
func (l *layer) see(line *line, i int, a *anchor, before, after *fix) {
	at := math.NaN()
	if s := &l.samples[i]; s.HasPosition {
		left := l.samples[a.sample].TimeS - s.TimeS
		expected := after.atM
		if left > 0 {
			expected -= float64((after.atM - before.atM) * left / a.dt)
		}
		p := line.near(line.of(s.Pos), expected, before.atM, after.atM)
		at, l.offM[i] = p.atM, p.offM
	}
	l.add(i, at)
}

// leastWayM is the shortest way in metres that tells anything without positions.
const leastWayM = 100.0

// sameLengthShare is how far in metres the ends of a ride without positions may lie from the
// course's for both to be the same, as a share of it.
const sameLengthShare = 0.05

// placeByDistance takes the way of the ride for that on the course, from its start.
func (l *layer) placeByDistance() error {
	way := l.ways()
	length, ridden := l.course.LengthM(), way[len(way)-1]
	if ridden < leastWayM {
		return &Error{Code: CodeNotOnCourse, AwayM: math.NaN(), Detail: "The recording has neither positions nor a way of 100 m; nothing tells where on the course it was."}
	}
	l.ride.ByDistance = true
	scale := 1.0
	if math.Abs(ridden/length-1) <= sameLengthShare {
		scale = length / ridden
	}
	l.ride.Scale = scale
	for i, m := range way {
		if i == 0 || l.samples[i].Broken {
			l.start()
		}
		at := m * scale
		if at > length+beyondM {
			break
		}
		l.add(i, at)
	}
	return nil
}

// ways returns the way up to each sample by the device's count, else by its speeds.
func (l *layer) ways() []float64 {
	way := make([]float64, len(l.samples))
	count := math.NaN() // of the device, at the last sample that has one
	atCount := 0.0
	for i := range l.samples {
		s := &l.samples[i]
		if i > 0 {
			way[i] = way[i-1]
			if v := s.SpeedMPS; v > 0 && !s.Broken && math.IsNaN(s.DistanceM) {
				way[i] += float64(v * (s.TimeS - l.samples[i-1].TimeS))
			}
		}
		if math.IsNaN(s.DistanceM) {
			continue
		}
		if !math.IsNaN(count) {
			way[i] = max(atCount+(s.DistanceM-count), way[i])
		}
		count, atCount = s.DistanceM, way[i]
	}
	return way
}

// trimmed leaves out the start and the end of a recording.
func trimmed(samples []recording.Sample, opt Options) []recording.Sample {
	from, to := 0, len(samples)
	if to == 0 {
		return nil
	}
	if opt.TrimStartM > 0 || opt.TrimStartS > 0 {
		w := walker{last: -1}
		for from < to && (samples[from].TimeS < opt.TrimStartS || w.wayM < opt.TrimStartM) {
			from++
			if from < to {
				w.measure(samples, from)
			}
		}
	}
	if opt.TrimEndM > 0 || opt.TrimEndS > 0 {
		end := samples[len(samples)-1].TimeS
		total := walker{last: -1}
		for i := from; i < to; i++ {
			total.measure(samples, i)
		}
		w := walker{last: -1}
		k := from
		for ; k < to; k++ {
			w.measure(samples, k)
			if total.wayM-w.wayM < opt.TrimEndM || end-samples[k].TimeS < opt.TrimEndS {
				break
			}
		}
		to = k
	}
	return samples[from:to]
}
