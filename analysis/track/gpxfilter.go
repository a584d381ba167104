package track

import (
	"bytes"
	"context"
	"encoding/xml"
	"fmt"
)

// chunkPoints is how many points and waypoints are handed to the parser at a
// time. The parser's own form of a point is some twenty times larger than ours,
// so that only a chunk of the file stands in it.
const chunkPoints = 10_000

// maxField is how many bytes of an element's text are looked at.
const maxField = 1 << 16

// filter reads a GPX file token by token and hands on a reduced document that has
// nothing in it but checked positions, elevations and names. The parser behind it
// takes hexadecimal latitudes, missing ones for 0 and foreign elements for its
// own, refuses a file over a field that nobody needs, and grows without bound:
// none of this gets past the filter.
//
// The reduced document comes in chunks, each complete in itself.
type filter struct {
	*xmlTokens
	notes notebook

	// open are the local names of the known elements around the current place,
	// outermost first; skipped counts the elements open inside the innermost of
	// them that are left out.
	open    []string
	skipped int
	space   string // the root's namespace
	text    []byte // of the field that is open

	queue []xml.Token // tokens to hand on, from queue[sent] on
	sent  int
	attrs [2]xml.Attr // of the point that is handed on
	chunk int         // points and waypoints in the current chunk

	parts, points, waypoints int
	lines                    map[string]int // tracks and routes so far
	current                  lineID
	index                    int // 0-based, of the current point in its line
	done                     bool
	err                      error
}

func newFilter(ctx context.Context, text []byte, limits Limits) *filter {
	return &filter{xmlTokens: newXMLTokens(ctx, text, limits, "GPX", "gpx"), lines: map[string]int{}}
}

// resume opens the next chunk with the elements that were open at the end of the
// last one, and returns which of trk and rte is among them, if any.
func (f *filter) resume() string {
	f.queue, f.sent, f.chunk = f.queue[:0], 0, 0
	for _, name := range f.open {
		f.emit(startTag(name))
	}
	if len(f.open) > 1 {
		return f.open[1]
	}
	return ""
}

// Token implements xml.TokenReader.
func (f *filter) Token() (xml.Token, error) {
	for f.sent == len(f.queue) {
		f.queue, f.sent = f.queue[:0], 0
		if f.err == nil {
			f.err = f.step()
		}
		if f.err != nil {
			return nil, f.err
		}
	}
	f.sent++
	return f.queue[f.sent-1], nil
}

func (f *filter) emit(t ...xml.Token) { f.queue = append(f.queue, t...) }

func startTag(name string) xml.StartElement { return xml.StartElement{Name: xml.Name{Local: name}} }
func endTag(name string) xml.EndElement     { return xml.EndElement{Name: xml.Name{Local: name}} }

// step reads one token of the file.
func (f *filter) step() error {
	t, err := f.xmlTokens.next()
	if err != nil {
		return err
	}
	switch t := t.(type) {
	case xml.StartElement:
		return f.element(t)
	case xml.EndElement:
		f.end()
	case xml.CharData:
		f.chars(t)
	}
	return nil
}

// element takes an opening tag.
func (f *filter) element(t xml.StartElement) error {
	name := t.Name.Local
	switch {
	case len(f.open) == 0:
		f.gpx(t)
		return nil
	case f.skipped > 0 || !f.ours(t.Name.Space) || !passes(f.innermost(), name):
		f.skipped++
		return nil
	}
	f.open = append(f.open, name)
	switch name {
	case "wpt", "rtept", "trkpt":
		return f.point(t)
	case "trk", "rte", "trkseg":
		return f.part(name)
	}
	f.text = f.text[:0]
	return nil
}

func (f *filter) innermost() string { return f.open[len(f.open)-1] }

// gpx takes the root element.
func (f *filter) gpx(t xml.StartElement) {
	f.space = t.Name.Space
	if version, _ := attribute(t, "version"); version != "1.0" && version != "1.1" {
		f.notes.addFile("version-unknown", fmt.Sprintf(
			"The file says version %q of GPX; it was read as 1.1.", clean(version, 20)))
	}
	f.open = append(f.open, "gpx")
	f.emit(startTag("gpx"))
}

// part takes the start of a track, a route or a segment.
func (f *filter) part(name string) error {
	f.parts++
	if f.parts > f.limits.Parts {
		return f.tooMany("tracks, routes and segments", "keep those of the course alone", f.limits.Parts, f.parts+f.rest("trk>", "trk/", "rte>", "rte/", "trkseg"))
	}
	if name != "trkseg" {
		f.current, f.index = lineID{name, f.lines[name]}, 0
		f.lines[name]++
	}
	f.emit(startTag(name))
	return nil
}

// end takes a closing tag; the decoder has checked that it is the right one.
func (f *filter) end() {
	if f.skipped > 0 {
		f.skipped--
		return
	}
	name := f.innermost()
	f.open = f.open[:len(f.open)-1]
	switch name {
	case "metadata":
	case "ele":
		f.elevation()
	case "name", "desc", "cmt", "sym", "type":
		if s := clean(string(f.text), f.limits.NameRunes); s != "" {
			f.emit(startTag(name), xml.CharData(s), endTag(name))
		}
	case "wpt", "rtept", "trkpt":
		f.emit(endTag(name))
		f.endPoint()
	case "gpx":
		f.done = true
		f.emit(endTag(name))
	default:
		f.emit(endTag(name))
	}
}

// endPoint closes the chunk if it is full.
func (f *filter) endPoint() {
	f.index++
	f.chunk++
	if f.chunk < chunkPoints {
		return
	}
	for i := len(f.open) - 1; i >= 0; i-- {
		f.emit(endTag(f.open[i]))
	}
}

// chars takes text between tags.
func (f *filter) chars(text []byte) {
	if len(f.open) == 0 || f.skipped > 0 || !isField(f.innermost()) {
		return
	}
	if len(f.text) == 0 {
		text = bytes.TrimLeft(text, " \t\r\n")
	}
	f.text = append(f.text, text[:min(len(text), maxField-len(f.text))]...)
}
