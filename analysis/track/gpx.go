package track

import "context"

// ReadGPX reads a GPX file, version 1.0 or 1.1 (Topografix schemas of 2002 and
// 2004), in UTF-8, UTF-16 with a byte order mark or any encoding that the file
// declares. The segments of a track are joined in file order. Every position must
// be present and in range; an elevation that can't be read is left out (NaN) with
// a warning, because the line is usable without it. Waypoints and the named points
// of the line become marks. Times and all else in the file are ignored.
//
// Every error is an *Error, or the context's. Memory grows with the file's bytes and with 32 bytes
// a point, not with what the file's elements would make of themselves.
func ReadGPX(ctx context.Context, data []byte, opt Options) (*Track, error) {
	limits := opt.Limits.orDefault()
	text, guessed, err := decodeText(data)
	if err != nil {
		return nil, err
	}
	f := newFilter(ctx, text, limits)
	if guessed {
		f.notes.addEncodingGuessed()
	}
	var c contents
	for !f.done {
		if err := c.read(f); err != nil {
			return nil, err
		}
	}
	f.noteTrailing(&f.notes)
	return c.choose(opt.Track, limits, f.notes)
}
