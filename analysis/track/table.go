package track

import (
	"bytes"
	"context"
	"fmt"
)

// ReadTable reads a table with a header line, as spreadsheets and programs write it:
// rows of cells between commas, semicolons, tabs, bars or runs of spaces, with decimal
// points or commas, in UTF-8, UTF-16 or Windows-1252. Lines before the header and those
// that start with # are passed over.
//
// The header's words, in English, French, German, Spanish or Italian, say what a column
// is: latitude and longitude, distance, elevation, gradient, name, kind; columns it
// does not know are ignored. Latitude and longitude make a line by positions, or else
// distance and elevation one by distances (Track.DistanceM), or else distance and
// gradient: then the gradient of a row, in percent, holds to the next row that has one,
// and the elevations start at 0. A row with a kind or a name that is no running number
// is a mark, too. An empty elevation is NaN.
//
// Units stand in the header ("Distance (km)", altitude_ft) or in the cells; without one,
// elevations are metres and so are distances, unless the table is shorter than 500 and
// they can't be (see distanceUnit). A table of numbers without a header is read if
// their ranges fit one reading only. Whatever had to be assumed is told by a warning.
//
// Every error is an *Error, or the context's; its point is the number of the row. Memory grows with the
// file's bytes and with 48 bytes a row.
func ReadTable(ctx context.Context, data []byte, opt Options) (*Track, error) {
	text, guessed, err := decodeText(data)
	if err != nil {
		return nil, err
	}
	t := &table{tableText: tableText{data: text, abandoned: ctx.Err}, limits: opt.Limits.orDefault()}
	if guessed {
		t.notes.addFile("encoding-guessed", "The file is not UTF-8; it was read as Windows-1252, names may hold wrong letters.")
	}
	for _, step := range []func() error{t.refuseOthers, t.findHeader, t.findPositions, t.findDecimals, t.rows} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	l, err := t.finished()
	if err != nil {
		return nil, err
	}
	c := contents{name: t.title, tracks: []line{l}}
	return c.choose(opt.Track, t.limits, t.notes)
}

// table is a table on its way to a line.
type table struct {
	tableText
	limits Limits
	notes  notebook

	title   string
	columns [roles]column
	// start is where the rows start.
	start cursor
	// comma says that numbers have decimal commas.
	comma bool

	row      int // rows so far
	rec      recording
	gradient []float64 // of each point, in percent; only where there are no elevations
	// lastDistance is the last distance as it is written.
	lastDistance []byte
	// lastPlace are the last row's name and kind.
	lastPlace [2]string
	// named counts the rows that have the name of the first mark, which is that of the
	// course if all have it.
	named int
}

// tableLine is what the warnings about a table's rows belong to.
var tableLine = lineID{"line", 0}

// refuseOthers refuses what is plainly no table.
func (t *table) refuseOthers() error {
	head := bytes.TrimSpace(t.data[:min(len(t.data), 1<<10)])
	var what string
	switch {
	case len(bytes.TrimSpace(t.data)) == 0:
		what = "The file is empty"
	case bytes.HasPrefix(head, []byte("PK\x03\x04")), bytes.HasPrefix(head, []byte("\xc3\x90\xc3\x8f\x11")):
		what = "The file is a spreadsheet or an archive as its program keeps it"
	case bytes.IndexByte(t.data, 0) >= 0:
		what = "The file holds bytes that are no text"
	case head[0] == '<':
		what = "The file is XML or a web page"
	case head[0] == '{':
		what = "The file is JSON"
	default:
		return nil
	}
	return &Error{Code: CodeNotTheFormat, Detail: what + ", not a table of text; export the table as CSV, or name the file's true format."}
}

// outOfRange refuses the current row.
func (t *table) outOfRange(format string, a ...any) error {
	return &Error{Code: CodeOutOfRange, Line: t.line, Point: t.row, Detail: fmt.Sprintf(format, a...)}
}

// note warns about the point that was read last.
func (t *table) note(code, format string, a ...any) {
	t.notes.add(tableLine, max(0, len(t.rec.points)-1), code, fmt.Sprintf(format, a...))
}
