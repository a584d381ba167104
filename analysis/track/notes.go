package track

import "fmt"

// lineID names a line of the file: what sort of line it is (trk or rte in GPX, else
// line), and its 0-based number among those. Its zero value stands for the whole file.
type lineID struct {
	part string
	n    int
}

// noteKey is what warnings are counted by.
type noteKey struct {
	line lineID
	code string
}

// note is a warning about one line or the whole file.
type note struct {
	line lineID
	Warning
}

// notesPerCode is how many warnings of one code are kept per line; the others are
// counted, so that a file wrong in every point does not drown the reader.
const notesPerCode = 5

// notebook collects warnings.
type notebook struct {
	notes  []note
	counts map[noteKey]int
}

// addFile adds a warning about the whole file.
func (b *notebook) addFile(code, detail string) { b.add(lineID{}, -1, code, detail) }

// addEncodingGuessed adds the warning of text that was not in the declared encoding.
func (b *notebook) addEncodingGuessed() {
	b.addFile("encoding-guessed",
		"The file is not in the encoding that it declares; it was read as Windows-1252, names may hold wrong letters.")
}

// add adds a warning about the point at the 0-based index of a line.
func (b *notebook) add(line lineID, index int, code, detail string) {
	if b.counts == nil {
		b.counts = map[noteKey]int{}
	}
	key := noteKey{line, code}
	b.counts[key]++
	if b.counts[key] <= notesPerCode {
		b.notes = append(b.notes, note{line, Warning{Code: code, Detail: detail, Point: index}})
	}
}

// move gives the warnings about points of a line the indices that the points moved
// to.
func (b *notebook) move(line lineID, moved func(index int) int) {
	for i := range b.notes {
		if n := &b.notes[i]; n.line == line && n.Point >= 0 {
			n.Point = moved(n.Point)
		}
	}
}

// warnings returns what concerns a line and the whole file. The last warning kept
// of a code tells how many more there were.
func (b *notebook) warnings(line lineID) []Warning {
	var ws []Warning
	seen := map[string]int{}
	for _, n := range b.notes {
		if n.line != (lineID{}) && n.line != line {
			continue
		}
		w := n.Warning
		seen[w.Code]++
		if more := b.counts[noteKey{n.line, w.Code}] - notesPerCode; more > 0 && seen[w.Code] == notesPerCode {
			w.Detail += fmt.Sprintf(" The same holds for %d more points.", more)
		}
		ws = append(ws, w)
	}
	return ws
}
