package engine

import (
	"bytes"
	"slices"
	"strings"
	"unicode/utf16"

	"parcours.example/analysis/track"
)

// format is a kind of route file.
type format struct {
	// mediaTypes are the types that senders name it by, its own first.
	mediaTypes []string
	// recognise reports whether a file's bytes look like it.
	recognise func(content []byte) bool
	// points estimates, quickly and roughly, how many points a file holds.
	points func(content []byte) int
	read   func(content []byte, opt track.Options) (*track.Track, error)
}

// formats are the formats that can be read. A further one is a further row.
var formats = []format{
	{
		mediaTypes: []string{"application/gpx+xml", "application/xml", "text/xml"},
		recognise:  func(content []byte) bool { return rootElement(content) == "gpx" },
		points:     func(content []byte) int { return bytes.Count(content, []byte("lat=")) },
		read:       track.ReadGPX,
	},
}

// generalTypes are the media types that name no format: the bytes decide.
var generalTypes = []string{"", "application/octet-stream", "application/x-www-form-urlencoded", "text/plain"}

// Recognise returns the media type of the format that a file's bytes look like,
// and whether they look like any.
func Recognise(content []byte) (mediaType string, ok bool) {
	i := slices.IndexFunc(formats, func(f format) bool { return f.recognise(content) })
	if i < 0 {
		return "", false
	}
	return formats[i].mediaTypes[0], true
}

// formatOf returns the format of a file: the named one, or the one that its bytes
// look like where the sender named none.
func formatOf(f *File) (format, error) {
	named, _, _ := strings.Cut(strings.ToLower(f.MediaType), ";")
	named = strings.TrimSpace(named)
	if slices.Contains(generalTypes, named) {
		recognised, ok := Recognise(f.Content)
		if !ok {
			return format{}, &track.Error{Code: track.CodeNotTheFormat, Detail: "The bytes are of no format that is known here; send GPX."}
		}
		named = recognised
	}
	i := slices.IndexFunc(formats, func(f format) bool { return slices.Contains(f.mediaTypes, named) })
	if i < 0 {
		return format{}, &Error{
			Code: CodeUnsupportedMediaType, Pointer: "#/course/file/media_type",
			Detail: "Files of this media type are not read here; send application/gpx+xml.",
		}
	}
	return formats[i], nil
}

// headUnits is how much of a file in UTF-16 is looked at, in code units.
const headUnits = 16 << 10

// rootElement returns the local name of an XML document's root element, "" where
// the bytes don't begin like XML. It looks past a byte order mark, white space,
// declarations, processing instructions and comments.
func rootElement(content []byte) string {
	rest := utf8Head(content)
	for {
		rest = bytes.TrimLeft(rest, " \t\r\n")
		var end string
		switch {
		case bytes.HasPrefix(rest, []byte("<!--")):
			end = "-->"
		case bytes.HasPrefix(rest, []byte("<?")):
			end = "?>"
		case bytes.HasPrefix(rest, []byte("<!")):
			end = ">"
		case bytes.HasPrefix(rest, []byte("<")):
			return localName(rest[1:])
		default:
			return ""
		}
		_, after, found := bytes.Cut(rest, []byte(end))
		if !found {
			return ""
		}
		rest = after
	}
}

// localName returns the name at the start of b without its prefix.
func localName(b []byte) string {
	if end := bytes.IndexAny(b, " \t\r\n/>"); end >= 0 {
		b = b[:end]
	}
	return string(b[bytes.IndexByte(b, ':')+1:])
}

// utf8Head returns the content without its byte order mark; of UTF-16, the head
// turned into UTF-8.
func utf8Head(content []byte) []byte {
	switch {
	case bytes.HasPrefix(content, []byte("\xef\xbb\xbf")):
		return content[3:]
	case bytes.HasPrefix(content, []byte("\xff\xfe")):
		return fromUTF16(content[2:], 0)
	case bytes.HasPrefix(content, []byte("\xfe\xff")):
		return fromUTF16(content[2:], 1)
	}
	return content
}

// fromUTF16 turns the head of UTF-16 text into UTF-8; low is the place of the low
// byte in each pair.
func fromUTF16(content []byte, low int) []byte {
	units := make([]uint16, min(len(content)/2, headUnits))
	for i := range units {
		units[i] = uint16(content[2*i+1-low])<<8 | uint16(content[2*i+low])
	}
	return []byte(string(utf16.Decode(units)))
}
