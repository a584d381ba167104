package track

import (
	"fmt"

	"parcours.example/analysis/geodesy"
)

// coursePoint is a place that a course made for devices names.
type coursePoint struct {
	name string
	// kind is the text that says what it is: "summit", "3rd Category".
	kind string
	pos  geodesy.Vec
	// atM is the distance along the course in metres, NaN where unknown.
	atM float64
}

// coursePoints counts the places of a file.
type coursePoints struct{ kept, turns int }

// addTo adds the mark of a place to a recording, unless it only says which way to
// turn.
func (n *coursePoints) addTo(r *recording, p coursePoint) {
	kind, turn := pointKind(p.kind)
	if kind == Other {
		kind = kindOf(p.name)
	}
	if turn && kind == Other {
		n.turns++
		return
	}
	n.kept++
	if p.name == "" && p.kind != "" {
		p.name = p.kind
	}
	if p.name == "" {
		p.name = fmt.Sprintf("mark %d", n.kept)
	}
	r.named = append(r.named, Mark{Name: p.name, Kind: kind, Pos: p.pos, AtM: p.atM})
}

// tooMany refuses a place that is beyond the limit, where is says where it stands.
func (n *coursePoints) tooMany(limit int, where string) *Error {
	if n.kept < limit {
		return nil
	}
	return &Error{Code: CodeTooMany, Limit: limit, Actual: limit + 1, Detail: fmt.Sprintf(
		"The file has more than %d named places (the next one stands %s); remove those that the course does not need.", limit, where)}
}

// noteTurns warns that there were places that are no marks.
func (n *coursePoints) noteTurns(notes *notebook) {
	if n.turns > 0 {
		notes.addFile("turns-left-out", fmt.Sprintf(
			"%s that only say which way to turn were left out of the marks.", counted(n.turns, "course point")))
	}
}

// pointKind returns what kind of mark a course point's type stands for, and whether
// it says which way to turn. A climb's category stands at its summit.
func pointKind(text string) (kind MarkKind, turn bool) {
	kind = kindOf(text)
	for _, w := range words(text) {
		switch w {
		case "category":
			kind = Summit
		case "checkpoint", "segment":
			kind = Gate
		case "station", "gel":
			kind = Feed
		case "left", "right", "straight", "fork", "turn":
			turn = true
		}
	}
	return kind, turn
}
