package track

import (
	"math"

	"parcours.example/analysis/geodesy"
)

// Sample is a moment of a ride as a device recorded it. NaN stands for what the file
// doesn't give.
type Sample struct {
	// ClockS is the time in seconds since 1970-01-01 UTC.
	ClockS float64
	// Pos is the position on the ellipsoid's surface, the zero vector where there is
	// none.
	Pos geodesy.Vec
	// ElevationM is in metres above sea level, DistanceM the distance covered in
	// metres by the device's count, SpeedMPS the speed in m/s that it shows.
	ElevationM, DistanceM, SpeedMPS float64
	// PowerW is the rider's power in W, CadenceRPM in revolutions a minute.
	PowerW, CadenceRPM float64
	// Begins says that the sample is the first of the file, of a segment or of a lap, or
	// after the device's timer was stopped.
	Begins bool
}

// noSample is a sample of which nothing is known yet.
func noSample() Sample {
	nan := math.NaN()
	return Sample{ClockS: nan, ElevationM: nan, DistanceM: nan, SpeedMPS: nan, PowerW: nan, CadenceRPM: nan}
}

// Flaw is something that was odd in a file.
type Flaw struct {
	// Code is stable and short, in kebab case; Detail says it in a sentence for people.
	Code, Detail string
	// Sample is the 0-based index of the first sample that it concerns, −1 where it
	// concerns the file; Count is how many it concerns.
	Sample, Count int
}

// Samples are what a device recorded, in file order.
type Samples struct {
	Samples []Sample
	// Flaws are of one code each.
	Flaws []Flaw
}

// flaws returns what the warnings that were collected come to.
func (b *notebook) flaws() []Flaw {
	var all []Flaw
	seen := map[noteKey]bool{}
	for _, n := range b.notes {
		key := noteKey{n.line, n.Code}
		if !seen[key] {
			seen[key] = true
			all = append(all, Flaw{Code: n.Code, Detail: n.Detail, Sample: n.Point, Count: b.counts[key]})
		}
	}
	return all
}

// noteBrokenOff warns of a recording that ends before the file should.
func (b *notebook) noteBrokenOff() {
	b.addFile("file-breaks-off", "The file breaks off before its end, as when a device is switched off or the copying stops; what was recorded up to there was read.")
}
