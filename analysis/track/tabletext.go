package track

import (
	"bytes"
	"fmt"
)

// tableText splits a table's text into records and cells. It is not encoding/csv because
// that knows neither runs of spaces nor line ends of a single CR, and takes the whole
// rest of a file for a cell whose quotation mark is never closed.
type tableText struct {
	data []byte
	// abandoned says why nobody waits for the file any more; nil while somebody does.
	abandoned func() error
	records   int // so far
	cursor
	// separator stands between cells, a space for runs of spaces and tabs.
	separator byte
	line      int // 1-based, in which the current record starts
	cells     [][]byte
}

// cursor is a place in the text, with the number of line ends before it.
type cursor struct{ pos, lines int }

// maxColumns is how many cells a row may have.
const maxColumns = 1000

// maxQuotedLines is how many lines a quoted cell may have, as headers have in
// spreadsheets.
const maxQuotedLines = 8

// nextLine returns the next line without its end; false at the end of the text.
func (t *tableText) nextLine() ([]byte, bool) {
	if t.pos >= len(t.data) {
		return nil, false
	}
	rest := t.data[t.pos:]
	n := 0
	for n < len(rest) && rest[n] != '\n' && rest[n] != '\r' {
		n++
	}
	end := min(n+1, len(rest))
	if bytes.HasPrefix(rest[n:], []byte("\r\n")) {
		end++
	}
	t.pos += end
	t.lines++
	return rest[:n], true
}

// next reads the next record into cells, past blank lines, ruled lines and comments;
// false at the end of the text.
func (t *tableText) next() (bool, error) {
	if t.records++; t.records%checkEvery == 0 {
		if err := t.abandoned(); err != nil {
			return false, err
		}
	}
	for {
		start := t.pos
		text, ok := t.nextLine()
		if !ok {
			return false, nil
		}
		if text = bytes.TrimSpace(text); len(text) == 0 || text[0] == '#' || len(bytes.Trim(text, "-=+:|_ \t")) == 0 {
			continue
		}
		t.line = t.lines
		after := t.cursor
		end := start + len(bytes.TrimRight(t.data[start:t.pos], "\r\n"))
		for n := 1; !t.split(t.data[start:end], false); n++ {
			if _, ok := t.nextLine(); !ok || n == maxQuotedLines {
				// The quotation mark is just a character.
				t.cursor = after
				t.split(bytes.TrimRight(t.data[start:t.pos], "\r\n"), true)
				break
			}
			end = start + len(bytes.TrimRight(t.data[start:t.pos], "\r\n"))
		}
		if len(t.cells) > maxColumns {
			return false, &Error{Code: CodeTooMany, Line: t.line, Limit: maxColumns, Actual: len(t.cells), Detail: fmt.Sprintf(
				"A row has more than %d cells; export the table with the columns of the course alone.", maxColumns)}
		}
		return true, nil
	}
}

// split splits a record into cells. Unless quotation marks are literal, it reports
// false where one is not closed.
func (t *tableText) split(record []byte, literal bool) bool {
	t.cells = t.cells[:0]
	rest := record
	for len(t.cells) <= maxColumns {
		rest = t.trimLeft(rest)
		if len(rest) == 0 && t.separator == ' ' {
			break
		}
		var cell []byte
		if len(rest) > 0 && rest[0] == '"' && !literal {
			n := t.closingQuote(rest)
			if n == 0 {
				return false
			}
			cell = bytes.ReplaceAll(rest[1:n], []byte(`""`), []byte(`"`))
			rest = rest[n+1:]
			rest = rest[t.cellEnd(rest):]
		} else {
			n := t.cellEnd(rest)
			cell, rest = rest[:n], rest[n:]
		}
		t.cells = append(t.cells, bytes.TrimSpace(cell))
		if len(rest) == 0 {
			break
		}
		rest = rest[1:]
	}
	return true
}

// trimLeft removes the white space before a cell.
func (t *tableText) trimLeft(s []byte) []byte {
	for len(s) > 0 && isSpace(s[0]) && (s[0] != '\t' || t.separator != '\t') {
		s = s[1:]
	}
	return s
}

// cellEnd returns the length of the cell at the start of s.
func (t *tableText) cellEnd(s []byte) int {
	for i, c := range s {
		if c == t.separator || t.separator == ' ' && isSpace(c) {
			return i
		}
	}
	return len(s)
}

// closingQuote returns the index of the quotation mark that closes the one at the start
// of s: one that is not doubled and before a separator. It is 0 if there is none.
func (t *tableText) closingQuote(s []byte) int {
	for i := 1; i < len(s); i++ {
		if s[i] != '"' {
			continue
		}
		if i+1 < len(s) && s[i+1] == '"' {
			i++
			continue
		}
		if after := t.trimLeft(s[i+1:]); len(after) == 0 || after[0] == t.separator || t.separator == ' ' && len(after) < len(s[i+1:]) {
			return i
		}
	}
	return 0
}

// restLines counts the lines that are left.
func (t *tableText) restLines() int {
	n := 0
	for {
		text, ok := t.nextLine()
		if !ok {
			return n
		}
		if len(bytes.TrimSpace(text)) > 0 {
			n++
		}
	}
}
