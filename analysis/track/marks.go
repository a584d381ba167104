package track

import (
	"fmt"
	"strings"
	"unicode"

	"github.com/tkrajina/gpxgo/gpx"
	"golang.org/x/text/unicode/norm"

	"parcours.example/analysis/geodesy"
)

// waypointMark returns the mark of a waypoint, the n-th of the file. Its name is
// the first that it has of name, description and comment.
func waypointMark(p gpx.GPXPoint, n int) Mark {
	for _, name := range []string{p.Name, p.Description, p.Comment} {
		if name != "" {
			return pointMark(p, name)
		}
	}
	return pointMark(p, fmt.Sprintf("mark %d", n))
}

// pointMark returns the mark of a point. What the file says that it is counts
// before its name, and the name before its symbol, which is often left as it was.
func pointMark(p gpx.GPXPoint, name string) Mark {
	return Mark{Name: name, Kind: firstKind(p.Type, name, p.Symbol), Pos: geodesy.FromDegrees(p.Latitude, p.Longitude)}
}

// firstKind returns the kind that the first telling text stands for.
func firstKind(texts ...string) MarkKind {
	for _, text := range texts {
		if k := kindOf(text); k != Other {
			return k
		}
	}
	return Other
}

// isPlaceName tells the name of a place from the running number that many
// writers give to every point of a route: it has two letters or more and is not
// a short word followed by a number, like "RPT012".
func isPlaceName(s string) bool {
	letters := 0
	for _, r := range s {
		if unicode.IsLetter(r) {
			letters++
		}
	}
	short := strings.TrimRight(s, "0123456789")
	if short != s && letters <= 5 && len(words(short)) <= 1 && kindOf(short) == Other {
		return false
	}
	return letters >= 2
}

// kindOf returns the kind that the first telling word of a text stands for, in
// English, French, German, Spanish or Italian. A text may tell several kinds
// ("sprint finish", "top, feed zone"): then the one that is scored counts.
func kindOf(text string) MarkKind {
	found := map[MarkKind]bool{}
	for _, w := range words(text) {
		found[kindOfWord(w)] = true
	}
	for _, k := range []MarkKind{Sprint, Summit, Gate, Feed} {
		if found[k] {
			return k
		}
	}
	return Other
}

// kindOfWord returns what a folded word stands for.
func kindOfWord(w string) MarkKind {
	switch w {
	case "sprint", "sprints", "sprintline", "zwischensprint", "sprintwertung", "esprint", "volante", "volata":
		return Sprint
	case "summit", "top", "hilltop", "pass", "crest", "col", "peak", "mountain", "mountains",
		"sommet", "cime", "gipfel", "kuppe", "passhohe", "joch", "sattel", "bergwertung", "bergpreis",
		"cima", "passo", "vetta", "valico", "colle", "gpm", "cumbre", "puerto", "alto", "collado", "montana":
		return Summit
	case "gate", "timing", "start", "finish", "line", "arch", "goal", "lap",
		"depart", "arrivee", "ligne", "chrono", "arche", "banderole",
		"ziel", "zeitnahme", "startlinie", "ziellinie", "tor", "runde",
		"salida", "meta", "llegada", "linea", "arco", "cronometraje",
		"partenza", "arrivo", "traguardo", "cronometraggio":
		return Gate
	case "feed", "feedzone", "feeding", "food", "water", "drink", "drinking", "refreshment", "refreshments",
		"ravito", "ravitaillement", "eau", "verpflegung", "verpflegungszone", "wasser", "labe",
		"avituallamiento", "agua", "rifornimento", "ristoro", "acqua":
		return Feed
	}
	return Other
}

// words splits a text into its words, without case and accents.
func words(text string) []string {
	var bare strings.Builder
	for _, r := range norm.NFKD.String(text) {
		if !unicode.Is(unicode.Mn, r) {
			bare.WriteRune(unicode.ToLower(r))
		}
	}
	return strings.FieldsFunc(bare.String(), func(r rune) bool { return !unicode.IsLetter(r) })
}

// clean returns a text fit to be shown: without control characters and without
// those that turn the direction of writing, white space collapsed, and cut to at
// most the given number of runes.
func clean(text string, runes int) string {
	var b strings.Builder
	space, n := false, 0
	for _, r := range text {
		switch {
		case unicode.IsSpace(r):
			space = n > 0
			continue
		case unicode.Is(unicode.Cc, r), unicode.Is(unicode.Bidi_Control, r), r == unicode.ReplacementChar, r == '\ufeff':
			continue
		}
		if space && n+1 < runes {
			b.WriteByte(' ')
			n++
		} else if space {
			break
		}
		if n == runes {
			break
		}
		space = false
		b.WriteRune(r)
		n++
	}
	return b.String()
}
