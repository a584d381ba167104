package track

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/muktihari/fit/decoder"
	"github.com/muktihari/fit/kit/hash/crc16"
	"github.com/muktihari/fit/proto"

	"parcours.example/analysis/geodesy"
)

// fitTaker takes what stands in a FIT file, or in several that are chained in one.
type fitTaker interface {
	// begin takes the start of a file in the chain.
	begin()
	// message takes a message of data, which starts at byte pos.
	message(l *fitLayout, b []byte, pos int) error
	// finish takes the end of a file in the chain; sound says that its checksums are
	// right.
	finish(sound bool)
}

// fitFile splits a FIT file into its messages and says at which byte something is wrong.
type fitFile struct {
	data []byte
	// abandoned says why nobody waits for the file any more; nil while somebody does.
	abandoned func() error
	pieces    int // so far
	taker     fitTaker

	limits Limits
	notes  notebook

	pos        int // of the current piece
	header     int // start of the current file in the chain
	start, end int // of its data
	inside     bool
	complete   int // files in the chain that were read to their end
	// layouts are by local number; the splitting refuses messages that have none.
	layouts [proto.LocalMesgNumMask + 1]fitLayout
	points  int // records in all files
}

// split hands all that stands in the file to a taker. Every error is an *Error, or the
// context's.
func (f *fitFile) split(taker fitTaker) error {
	f.taker = taker
	_, err := decoder.NewRaw().Decode(bytes.NewReader(f.data), f.take)
	if err := f.abandoned(); err != nil {
		return err
	}
	return f.settle(err)
}

// The sizes of a header without and with a checksum of its own, and of a checksum,
// in bytes.
const (
	fitShortHeader = 12
	fitLongHeader  = 14
	fitSum         = 2
)

// take takes a piece of the file.
func (f *fitFile) take(kind decoder.RawFlag, b []byte) error {
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
		return f.taker.message(&f.layouts[proto.LocalMesgNum(b[0])], b, pos)
	case decoder.RawFlagCRC:
		f.endFile(b)
	}
	return nil
}

// header takes the start of a file in the chain.
func (f *fitFile) startFile(b []byte) error {
	size := int(binary.LittleEndian.Uint32(b[4:]))
	if size == 0 {
		return f.broken(f.pos-len(b), "The header says that no data follow, as devices write it that were switched off before the end of a recording")
	}
	if f.complete >= f.limits.Parts {
		return &Error{Code: CodeTooMany, Limit: f.limits.Parts, Actual: f.complete + 1, Detail: fmt.Sprintf(
			"More than %d files are chained in this one; keep the one of the course alone.", f.limits.Parts)}
	}
	f.inside, f.header, f.start, f.end = true, f.pos-len(b), f.pos, f.pos+size
	f.taker.begin()
	return nil
}

// countRecord counts a record, whose message starts at byte pos.
func (f *fitFile) countRecord(pos int) error {
	f.points++
	if f.points > f.limits.Points {
		return &Error{Code: CodeTooMany, Point: f.points, Limit: f.limits.Points, Actual: f.points, Detail: fmt.Sprintf(
			"The file has more than %d points (the next one stands at byte %d); thin them out, one every few metres is enough.", f.limits.Points, pos)}
	}
	return nil
}

// fitDegrees is a semicircle in degrees.
const fitDegrees = 180.0 / (1 << 31)

// place returns the position of a point in semicircles, the zero vector where it
// has none.
func (f *fitFile) place(lat, lon float64, pos int) (geodesy.Vec, error) {
	lat, lon = lat*fitDegrees, lon*fitDegrees
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

func (f *fitFile) outOfRange(what string, deg, limit float64, pos int) error {
	return &Error{Code: CodeOutOfRange, Point: f.points, Detail: fmt.Sprintf(
		"The %s %.6f is beyond ±%g degrees (message at byte %d); correct or remove the point.", what, deg, limit, pos)}
}

// endFile takes the checksum at the end of a file in the chain.
func (f *fitFile) endFile(sum []byte) {
	f.inside = false
	f.complete++
	f.taker.finish(f.checked(sum))
}

// checked tells whether the checksums of the current file are right. That of the
// data may include the header, which makes a difference only where the header has
// none of its own.
func (f *fitFile) checked(sum []byte) bool {
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
func (f *fitFile) settle(err error) error {
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
func (f *fitFile) cutOff() error {
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

func (f *fitFile) noteTrailing() {
	f.notes.addFile("content-after-end", fmt.Sprintf("What follows the end of the FIT file at byte %d was ignored.", f.pos))
}

func notFIT() error {
	return &Error{Code: CodeNotTheFormat, Detail: "The file does not start as FIT; export the course as FIT, or name the file's true format."}
}

// broken refuses a file over what is at a byte of it.
func (f *fitFile) broken(pos int, format string, a ...any) error {
	return &Error{Code: CodeMalformed, Point: f.points, Detail: fmt.Sprintf(format, a...) +
		fmt.Sprintf(" (byte %d); export the file again.", pos)}
}
