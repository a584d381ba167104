package engine

import (
	"bytes"
	"strconv"
	"unicode/utf16"
)

// fitRecordBytes is what a point of a FIT file takes at least, as devices write it.
const fitRecordBytes = 20

// isFIT reports whether the content starts with the header of a FIT file: its own
// size, and a signature at a fixed place.
func isFIT(content []byte) bool {
	const signature = 8
	return len(content) > signature && (content[0] == 12 || content[0] == 14) && bytes.HasPrefix(content[signature:], []byte(".FIT"))
}

// zipHead is what zip archives start with: the signature of a first file.
var zipHead = []byte("PK\x03\x04")

// isZippedKML reports whether the content is a zip archive that names a KML file;
// names stand in it as they are.
func isZippedKML(content []byte) bool {
	if !bytes.HasPrefix(content, zipHead) {
		return false
	}
	extension := []byte(".kml")
	for at := bytes.IndexByte(content, '.'); at >= 0; at = bytes.IndexByte(content, '.') {
		content = content[at:]
		if len(content) >= len(extension) && bytes.EqualFold(content[:len(extension)], extension) {
			return true
		}
		content = content[1:]
	}
	return false
}

// kmlPoints estimates the points of a KML file: a position has one comma or two, or
// an element of its own. Of what an archive holds only the packed size is told; in it
// a position takes four bytes at least.
func kmlPoints(content []byte) int {
	if bytes.HasPrefix(content, zipHead) {
		return len(content) / 4
	}
	return bytes.Count(content, []byte(","))/2 + bytes.Count(content, []byte("coord>"))/2
}

// isJSONObject reports whether the content begins like an object in JSON. Of what is
// read in JSON GeoJSON is the only one; its reader tells others what they lack.
func isJSONObject(content []byte) bool {
	return bytes.HasPrefix(bytes.TrimLeft(utf8Head(content), " \t\r\n"), []byte("{"))
}

// tableHead is how much of a file is looked at for the rows of a table, in bytes.
const tableHead = 16 << 10

// isTable reports whether the content is text that has, near its beginning, a row of
// two numbers or more that are at least half of its cells.
func isTable(content []byte) bool {
	head := utf8Head(content)
	head = bytes.TrimLeft(head[:min(len(head), tableHead)], " \t\r\n")
	isControl := func(r rune) bool { return r < ' ' && r != '\t' && r != '\r' && r != '\n' || r == 0x7f }
	if len(head) == 0 || bytes.IndexByte([]byte("<{["), head[0]) >= 0 || bytes.HasPrefix(head, []byte("%PDF-")) || bytes.IndexFunc(head, isControl) >= 0 {
		return false
	}
	for line := range bytes.FieldsFuncSeq(head, func(r rune) bool { return r == '\r' || r == '\n' }) {
		cells, numbers := 0, 0
		for cell := range bytes.FieldsFuncSeq(line, func(r rune) bool { return bytes.ContainsRune([]byte(" \t,;|\""), r) }) {
			cells++
			if _, err := strconv.ParseFloat(string(cell), 64); err == nil {
				numbers++
			}
		}
		if numbers >= 2 && 2*numbers >= cells {
			return true
		}
	}
	return false
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
