package track

import (
	"bytes"
	"strings"
)

// endCoordinates takes the text of a coordinates element: positions between white
// space, numbers between commas. Hand-made files have spaces around the commas, too;
// that is read, with a warning.
func (f *kmlReader) endCoordinates() error {
	text, line := f.text, f.textLine
	f.text = nil
	var numbers []string
	for {
		trimmed := bytes.TrimLeft(text, space)
		line += bytes.Count(text[:len(text)-len(trimmed)], []byte("\n"))
		text = trimmed
		n := tupleLength(text)
		if n == 0 {
			return nil
		}
		more := func() int { return countTuples(text[n:]) + countTuples(f.src.data[f.src.pos:]) }
		if err := f.countPoint(line, more); err != nil {
			return err
		}
		numbers = f.numbers(numbers[:0], text[:n])
		if err := f.position(line, numbers); err != nil {
			return err
		}
		line += bytes.Count(text[:n], []byte("\n"))
		text = text[n:]
	}
}

// space are the characters that are white space in XML.
const space = " \t\r\n"

func isSpace(c byte) bool { return c == ' ' || c == '\t' || c == '\r' || c == '\n' }

// tupleLength returns the length of the tuple that a text starts with: it ends at white
// space that has a comma neither before nor after it.
func tupleLength(text []byte) int {
	n := 0
	comma := true
	for i, c := range text {
		if isSpace(c) {
			continue
		}
		if i > n && c != ',' && !comma {
			break
		}
		comma = c == ','
		n = i + 1
	}
	return n
}

// numbers splits a tuple.
func (f *kmlReader) numbers(into []string, tuple []byte) []string {
	if !f.spaced && bytes.ContainsAny(tuple, space) {
		f.spaced = true
		f.notes.addFile("spaces-in-coordinates",
			"The numbers of a position stand with spaces around their commas, which KML forbids; what commas join was read as one position.")
	}
	for part := range strings.SplitSeq(string(tuple), ",") {
		into = append(into, strings.TrimSpace(part))
	}
	return into
}

// countTuples counts the positions, as far as they are plainly written, in a piece of
// a file.
func countTuples(text []byte) int {
	n := 0
	for field := range bytes.FieldsSeq(text) {
		field = field[bytes.LastIndexByte(field, '>')+1:]
		field, _, _ = bytes.Cut(field, []byte("<"))
		if bytes.IndexByte(field, ',') > 0 && strings.IndexByte("+-.0123456789", field[0]) >= 0 {
			n++
		}
	}
	return n
}
