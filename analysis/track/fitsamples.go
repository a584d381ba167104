package track

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/muktihari/fit/proto"

	"parcours.example/analysis/geodesy"
)

// fitEpochS is 1989-12-31 00:00 UTC, from which the format counts its seconds, in
// seconds since 1970.
const fitEpochS = 631065600

// ReadFITSamples reads what a device recorded into a FIT file: its record messages,
// those of files that are chained in one after each other. A file that breaks off is
// read up to there, with the flaw "file-breaks-off". What is out of range is left out.
//
// Every error is an *Error, or the context's. Memory grows with 96 bytes a record.
func ReadFITSamples(ctx context.Context, data []byte, limits Limits) (*Samples, error) {
	whole, brokenOff := completed(data)
	f := fitSamples{fitFile: fitFile{data: whole, abandoned: ctx.Err, limits: limits.orDefault()}, brokenOff: brokenOff}
	if err := f.split(&f); err != nil && !f.endsAt(err) {
		return nil, err
	}
	if f.brokenOff {
		f.notes.noteBrokenOff()
	}
	return &Samples{Samples: f.samples, Flaws: f.notes.flaws()}, nil
}

// completed returns a file whose header tells the bytes that there are, where it told
// none, as devices do before a recording ends, or more.
func completed(data []byte) (whole []byte, brokenOff bool) {
	const sizeAt, signatureAt = 4, 8
	if len(data) <= fitLongHeader || string(data[signatureAt:fitShortHeader]) != proto.DataTypeFIT {
		return data, false
	}
	header, size := int(data[0]), int(binary.LittleEndian.Uint32(data[sizeAt:]))
	if header != fitShortHeader && header != fitLongHeader || size > 0 && header+size <= len(data) {
		return data, false
	}
	whole = slices.Clone(data)
	binary.LittleEndian.PutUint32(whole[sizeAt:], uint32(len(data)-header))
	return whole, true
}

// fitSamples takes the samples of a FIT file.
type fitSamples struct {
	fitFile
	samples   []Sample
	brokenOff bool
	begins    bool // the next sample does
	clock     uint32
}

// endsAt reports whether the file breaks off at an error, after samples that count.
func (f *fitSamples) endsAt(err error) bool {
	var own *Error
	if !errors.As(err, &own) || own.Code != CodeMalformed || len(f.samples) == 0 {
		return false
	}
	f.brokenOff = true
	return true
}

func (f *fitSamples) begin() { f.begins, f.clock = true, 0 }

func (f *fitSamples) finish(sound bool) {
	if !sound && !f.brokenOff {
		f.notes.addFile("checksum-wrong",
			"The file's checksum is missing or wrong: some of it may have been changed or damaged. All of it was read.")
	}
}

// message takes a message of data.
func (f *fitSamples) message(l *fitLayout, b []byte, pos int) error {
	f.tick(l, b)
	switch l.message {
	case mesgnum.Record:
		return f.record(l, b, pos)
	case mesgnum.Event:
		if stopsTimer(l, b) {
			f.begins = true
		}
	}
	return nil
}

// tick takes the time of a message: a field of its own, or the last five bits of it in
// the message's header.
func (f *fitSamples) tick(l *fitLayout, b []byte) {
	if v := l.number(fitTime, b); !math.IsNaN(v) {
		f.clock = uint32(v)
		return
	}
	if b[0]&proto.MesgCompressedHeaderMask == 0 {
		return
	}
	f.clock += (uint32(b[0]) - f.clock) & proto.CompressedTimeMask
}

// stopsTimer reports whether an event stops the device's timer.
func stopsTimer(l *fitLayout, b []byte) bool {
	if l.number(fitEvent, b) != float64(typedef.EventTimer) {
		return false
	}
	switch l.number(fitEventType, b) {
	case float64(typedef.EventTypeStop), float64(typedef.EventTypeStopAll),
		float64(typedef.EventTypeStopDisable), float64(typedef.EventTypeStopDisableAll):
		return true
	}
	return false
}

// record takes a sample.
func (f *fitSamples) record(l *fitLayout, b []byte, pos int) error {
	if err := f.countRecord(pos); err != nil {
		return err
	}
	s := noSample()
	if f.clock > 0 {
		s.ClockS = fitEpochS + float64(f.clock)
	}
	s.Pos = f.lenientPlace(l.number(fitRecordLat, b), l.number(fitRecordLon, b))
	s.ElevationM = f.lenientElevation(l.elevation(b))
	s.DistanceM = l.number(fitRecordDistance, b) / 100
	s.SpeedMPS = l.number(fitRecordEnhancedSpeed, b) / 1000
	if math.IsNaN(s.SpeedMPS) {
		s.SpeedMPS = l.number(fitRecordSpeed, b) / 1000
	}
	s.PowerW = l.number(fitRecordPower, b)
	s.CadenceRPM = l.number(fitRecordCadence, b)
	s.Begins, f.begins = f.begins, false
	f.samples = append(f.samples, s)
	return nil
}

// lenientPlace returns a position in semicircles, the zero vector for none and for one
// out of range.
func (f *fitSamples) lenientPlace(lat, lon float64) geodesy.Vec {
	pos, err := f.place(lat, lon, f.pos)
	if err != nil {
		f.note("position-out-of-range", fmt.Sprintf("The latitude %.6f or the longitude %.6f is beyond the Earth; the position was left out.",
			lat*fitDegrees, lon*fitDegrees))
	}
	return pos
}

// lenientElevation returns an elevation in metres, NaN for one out of range.
func (f *fitSamples) lenientElevation(m float64) float64 {
	if math.Abs(m) <= maxElevation || math.IsNaN(m) {
		return m
	}
	f.note("elevation-out-of-range", fmt.Sprintf("The elevation %.0f m is beyond ±%d m and was left out.", m, maxElevation))
	return math.NaN()
}

// note warns about the sample that is being read.
func (f *fitSamples) note(code, detail string) { f.notes.add(lineID{}, len(f.samples), code, detail) }
