package recording

import (
	"context"
	"fmt"
	"math"

	"parcours.example/analysis/track"
)

// Error says why a file is no recording of a ride.
type Error struct {
	// Code is one of the Code constants.
	Code string
	// Detail is a sentence for people that says how to correct the file.
	Detail string
}

// The reasons for which a readable file is no recording.
const (
	// CodeNoSamples: it holds fewer than two samples of a ride.
	CodeNoSamples = "no-samples"
	// CodeNoTimes: fewer than two of its samples have a time, as in a course.
	CodeNoTimes = "no-times"
)

// Error implements error.
func (e *Error) Error() string { return e.Detail }

// ReadFIT reads a recording from a FIT file and mends it. Errors are *track.Error where
// the file can't be read, *Error where it holds no recording, or the context's. What
// could be mended or is merely odd stands in the notes.
func ReadFIT(ctx context.Context, data []byte, limits track.Limits) (*Recording, error) {
	return mended(track.ReadFITSamples(ctx, data, limits))
}

// ReadTCX is ReadFIT for TCX files.
func ReadTCX(ctx context.Context, data []byte, limits track.Limits) (*Recording, error) {
	return mended(track.ReadTCXSamples(ctx, data, limits))
}

// ReadGPX is ReadFIT for GPX files with times.
func ReadGPX(ctx context.Context, data []byte, limits track.Limits) (*Recording, error) {
	return mended(track.ReadGPXSamples(ctx, data, limits))
}

// mended mends what was read.
func mended(read *track.Samples, err error) (*Recording, error) {
	if err != nil {
		return nil, err
	}
	if len(read.Samples) < 2 {
		return nil, &Error{CodeNoSamples, fmt.Sprintf(
			"The file holds %d samples of a ride, and two are the least; export the recording of the ride itself.", len(read.Samples))}
	}
	m := mending{samples: timed(read.Samples)}
	if len(m.samples) < 2 {
		return nil, &Error{CodeNoTimes, fmt.Sprintf(
			"Of %d samples %d have a time, as in a course; export the recording of the ride with its times.", len(read.Samples), len(m.samples))}
	}
	m.takeFlaws(read)
	m.mend()
	if len(m.samples) < 2 {
		return nil, &Error{CodeNoTimes, "All samples have the same time; export the recording of the ride with its times."}
	}
	return m.recording(), nil
}

// timed returns the samples that have a time.
func timed(read []track.Sample) []track.Sample {
	kept := make([]track.Sample, 0, len(read))
	for _, s := range read {
		if !math.IsNaN(s.ClockS) {
			kept = append(kept, s)
		}
	}
	return kept
}

// Of mends samples that come from no file. Their clock may have any zero. Errors are *Error.
func Of(samples []track.Sample) (*Recording, error) {
	return mended(&track.Samples{Samples: samples}, nil)
}
