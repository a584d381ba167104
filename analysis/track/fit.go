package track

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/muktihari/fit/decoder"
	"github.com/muktihari/fit/kit/hash/crc16"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/muktihari/fit/proto"

	"parcours.example/analysis/geodesy"
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
	f := fitReader{data: data, abandoned: ctx.Err, limits: opt.Limits.orDefault()}
	_, err := decoder.NewRaw().Decode(bytes.NewReader(data), f.take)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if err := f.settle(err); err != nil {
		return nil, err
	}
	f.places.noteTurns(&f.notes)
	return f.contents.choose(opt.Track, f.limits, f.notes)
}

// fitReader takes the pieces of a FIT file.
type fitReader struct {
	data []byte
	// abandoned says why nobody waits for the file any more; nil while somebody does.
	abandoned func() error
	pieces    int // so far

	limits Limits
	notes  notebook
	contents

	pos        int // of the current piece
	header     int // start of the current file in the chain
	start, end int // of its data
	inside     bool
	complete   int // files in the chain that were read to their end
	// layouts are by local number; the splitting refuses messages that have none.
	layouts [proto.LocalMesgNumMask + 1]fitLayout
	current recording
	points  int // records in all files
	places  coursePoints
}

// The sizes of a header without and with a checksum of its own, and of a checksum,
// in bytes.
const (
	fitShortHeader = 12
	fitLongHeader  = 14
	fitSum         = 2
)

// take takes a piece of the file.
func (f *fitReader) take(kind decoder.RawFlag, b []byte) error {
	if f.pieces++; f.pieces%checkEvery == 0 {
		if err := f.abandoned(); err != nil {
			return err
		}
	}
	pos := f.pos
	f.pos += len(b)
	if kind != decoder.RawFlagFileHeader && kind != decoder.RawFlagCRC && f.pos > f.end {
		return f.broken(pos, "A message runs over the end of the data, which the file's header puts at byte %d", f.end)
	}
	switch kind {
	case decoder.RawFlagFileHeader:
		return f.startFile(b)
	case decoder.RawFlagMesgDef:
		f.layouts[b[0]&proto.LocalMesgNumMask] = newFITLayout(b)
	case decoder.RawFlagMesgData:
		return f.message(&f.layouts[proto.LocalMesgNum(b[0])], b, pos)
	case decoder.RawFlagCRC:
		f.endFile(b)
	}
	return nil
}

// header takes the start of a file in the chain.
func (f *fitReader) startFile(b []byte) error {
	size := int(binary.LittleEndian.Uint32(b[4:]))
	if size == 0 {
		return f.broken(f.pos-len(b), "The header says that no data follow, as devices write it that were switched off before the end of a recording")
	}
	if f.complete >= f.limits.Parts {
		return &Error{Code: CodeTooMany, Limit: f.limits.Parts, Actual: f.complete + 1, Detail: fmt.Sprintf(
			"More than %d files are chained in this one; keep the one of the course alone.", f.limits.Parts)}
	}
	f.inside, f.header, f.start, f.end = true, f.pos-len(b), f.pos, f.pos+size
	f.current = recording{id: lineID{"trk", len(f.tracks)}}
	return nil
}

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
	f.points++
	if f.points > f.limits.Points {
		return &Error{Code: CodeTooMany, Point: f.points, Limit: f.limits.Points, Actual: f.points, Detail: fmt.Sprintf(
			"The file has more than %d points (the next one stands at byte %d); thin them out, one every few metres is enough.", f.limits.Points, pos)}
	}
	place, err := f.place(l.number(fitRecordLat, b), l.number(fitRecordLon, b), pos)
	if err != nil {
		return err
	}
	p := Point{Pos: place, Elevation: l.number(fitRecordEnhancedAltitude, b)}
	if math.IsNaN(p.Elevation) {
		p.Elevation = l.number(fitRecordAltitude, b)
	}
	p.Elevation = p.Elevation/5 - 500
	if math.Abs(p.Elevation) > maxElevation {
		f.notes.add(f.current.id, len(f.current.points), "elevation-out-of-range", fmt.Sprintf(
			"The elevation %.0f m is beyond ±%d m and was left out.", p.Elevation, maxElevation))
		p.Elevation = math.NaN()
	}
	f.current.add(p, l.number(fitRecordDistance, b)/100)
	return nil
}

// place returns the position of a point in semicircles, the zero vector where it
// has none.
func (f *fitReader) place(lat, lon float64, pos int) (geodesy.Vec, error) {
	const degrees = 180.0 / (1 << 31)
	lat, lon = lat*degrees, lon*degrees
	switch {
	case math.IsNaN(lat) || math.IsNaN(lon):
		return unplaced, nil
	case math.Abs(lat) > 90:
		return unplaced, f.outOfRange("latitude", lat, 90, pos)
	case math.Abs(lon) > 180:
		return unplaced, f.outOfRange("longitude", lon, 180, pos)
	}
	return geodesy.FromDegrees(lat, lon), nil
}

func (f *fitReader) outOfRange(what string, deg, limit float64, pos int) error {
	return &Error{Code: CodeOutOfRange, Point: f.points, Detail: fmt.Sprintf(
		"The %s %.6f is beyond ±%g degrees (message at byte %d); correct or remove the point.", what, deg, limit, pos)}
}

// endFile takes the checksum at the end of a file in the chain.
func (f *fitReader) endFile(sum []byte) {
	if !f.checked(sum) {
		f.notes.add(f.current.id, -1, "checksum-wrong",
			"The file's checksum is missing or wrong: some of it may have been changed or damaged. All of it was read; look whether the course is right.")
	}
	f.inside = false
	f.complete++
	if len(f.current.points) > 0 {
		f.tracks = append(f.tracks, f.current.line(&f.notes))
	}
}

// checked tells whether the checksums of the current file are right. That of the
// data may include the header, which makes a difference only where the header has
// none of its own.
func (f *fitReader) checked(sum []byte) bool {
	if len(sum) < fitSum {
		return false
	}
	header, data := f.data[f.header:f.start], f.data[f.start:f.end]
	if len(header) == fitLongHeader {
		given := binary.LittleEndian.Uint16(header[fitShortHeader:])
		if given != 0 && given != checksum(header[:fitShortHeader]) {
			return false
		}
	}
	given := binary.LittleEndian.Uint16(sum)
	return given == checksum(data) || given == checksum(f.data[f.header:f.end])
}

// checksum returns the checksum that the format has of bytes.
func checksum(b []byte) uint16 {
	h := crc16.New()
	_, _ = h.Write(b) // never fails
	return h.Sum16()
}

// settle turns the error that the splitting ended with into one of ours, nil where
// the file is complete.
func (f *fitReader) settle(err error) error {
	var own *Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &own):
		return own
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return f.cutOff()
	case errors.Is(err, decoder.ErrNotFITFile) && f.complete > 0:
		f.noteTrailing()
		return nil
	case errors.Is(err, decoder.ErrNotFITFile):
		return notFIT()
	case errors.Is(err, decoder.ErrMesgDefMissing):
		return f.broken(f.pos, "A message has no definition")
	}
	return f.broken(f.pos, "The file can't be read on (%s)", clean(err.Error(), 120))
}

// cutOff says what is wrong with a file that ends too early.
func (f *fitReader) cutOff() error {
	switch {
	case f.inside && f.pos == f.end:
		f.endFile(nil)
		return nil
	case f.inside:
		return f.broken(f.pos, "The file breaks off: it has %d bytes of the %d that its header tells", len(f.data), f.end+fitSum)
	case f.complete > 0:
		f.noteTrailing()
		return nil
	}
	return notFIT()
}

func (f *fitReader) noteTrailing() {
	f.notes.addFile("content-after-end", fmt.Sprintf("What follows the end of the FIT file at byte %d was ignored.", f.pos))
}

func notFIT() error {
	return &Error{Code: CodeNotTheFormat, Detail: "The file does not start as FIT; export the course as FIT, or name the file's true format."}
}

// broken refuses a file over what is at a byte of it.
func (f *fitReader) broken(pos int, format string, a ...any) error {
	return &Error{Code: CodeMalformed, Point: f.points, Detail: fmt.Sprintf(format, a...) +
		fmt.Sprintf(" (byte %d); export the file again.", pos)}
}
