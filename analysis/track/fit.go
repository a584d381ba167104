package track

import (
	"context"
	"fmt"
	"math"

	"github.com/muktihari/fit/profile/untyped/mesgnum"
)

// ReadFIT reads a FIT file (protocol 1 and 2): a course or a recorded activity. Its
// line is the record messages, by their positions or, where fewer than half of them
// have one, by their distances: then Track.DistanceM is set. Several files chained
// in one are the tracks; laps and pauses are not told apart. Course points become
// marks, except those that only say which way to turn. Times and all else in the
// file are ignored.
//
// A file that breaks off is refused, because the end of the course would be missing;
// one that is complete but for its checksums is read with the warning
// "checksum-wrong". Every error is an *Error, or the context's and names the byte, counted from 0, in
// its sentence.
//
// Memory grows with 40 bytes a record. Of the format library only the splitting
// into messages is used, in a buffer of constant size: its full decoder keeps all
// descriptions of developer fields that a file sends and searches them at each
// field.
func ReadFIT(ctx context.Context, data []byte, opt Options) (*Track, error) {
	f := fitReader{fitFile: fitFile{data: data, abandoned: ctx.Err, limits: opt.Limits.orDefault()}}
	if err := f.split(&f); err != nil {
		return nil, err
	}
	f.places.noteTurns(&f.notes)
	return f.contents.choose(opt.Track, f.limits, f.notes)
}

// fitReader takes the line and the places of a FIT file.
type fitReader struct {
	fitFile
	contents

	current recording
	places  coursePoints
}

func (f *fitReader) begin() { f.current = recording{id: lineID{"trk", len(f.tracks)}} }

// message takes a message of data.
func (f *fitReader) message(l *fitLayout, b []byte, pos int) error {
	switch l.message {
	case mesgnum.Record:
		return f.record(l, b, pos)
	case mesgnum.Course:
		if name := l.text(fitCourseName, b); name != "" {
			f.current.name = clean(name, f.limits.NameRunes)
		}
	case mesgnum.CoursePoint:
		return f.coursePoint(l, b, pos)
	}
	return nil
}

// record takes a point of the line.
func (f *fitReader) record(l *fitLayout, b []byte, pos int) error {
	if err := f.countRecord(pos); err != nil {
		return err
	}
	place, err := f.place(l.number(fitRecordLat, b), l.number(fitRecordLon, b), pos)
	if err != nil {
		return err
	}
	p := Point{Pos: place, Elevation: l.elevation(b)}
	if math.Abs(p.Elevation) > maxElevation {
		f.notes.add(f.current.id, len(f.current.points), "elevation-out-of-range", fmt.Sprintf(
			"The elevation %.0f m is beyond ±%d m and was left out.", p.Elevation, maxElevation))
		p.Elevation = math.NaN()
	}
	f.current.add(p, l.number(fitRecordDistance, b)/100)
	return nil
}

// finish takes the end of a file in the chain.
func (f *fitReader) finish(sound bool) {
	if !sound {
		f.notes.add(f.current.id, -1, "checksum-wrong",
			"The file's checksum is missing or wrong: some of it may have been changed or damaged. All of it was read; look whether the course is right.")
	}
	if len(f.current.points) > 0 {
		f.tracks = append(f.tracks, f.current.line(&f.notes))
	}
}
