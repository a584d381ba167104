package brief

import (
	"cmp"
	"slices"
	"sort"
	"strings"
	"unicode/utf8"
)

// said is a sentence with its rank: the lower, the later it is left out. Equal
// ranks are left out from the end.
type said struct {
	rank int
	phrase
}

// block is a stretch of the text with what is said in each of its lines.
type block struct {
	kind    blockKind
	heading phrase
	// intro and head stand above the rows of a table and are gone with the last of them.
	intro, head phrase
	lines       [][]said
	// groups, where not nil, has a number above 0 for each line. Lines of equal rank and
	// number are kept or left out together.
	groups []int
}

type blockKind int

const (
	titleBlock   blockKind = iota
	opening                // one paragraph without heading
	bulleted               // a heading with a list
	tabled                 // a heading with a table
	cautionBlock           // one paragraph at the end
)

// document is everything there is to say, in order of reading.
type document struct {
	title  string
	blocks []block
}

// fit leaves out the least important until both renderings keep to the limit.
// What is kept is always the first part of one fixed order, so that a larger
// limit never drops what a smaller one had.
func (d document) fit(limit int) *Brief {
	ranks := d.ranks()
	keep := len(ranks)
	if limit > 0 {
		keep = sort.Search(len(ranks), func(n int) bool {
			r := d.cut(ranks, n+1).render()
			return max(utf8.RuneCountInString(r.markdown), utf8.RuneCountInString(r.text)) > limit
		})
		for keep > 0 && keep < len(ranks) && together(ranks[keep-1], ranks[keep]) {
			keep--
		}
		keep = max(keep, 1) // the short caution
	}
	return d.cut(ranks, keep).brief(len(ranks) - keep)
}

// place is where a sentence stands, and how important it is.
type place struct {
	position
	rank, group int
}

// position is where a sentence stands.
type position struct{ block, line, sentence int }

// together reports whether neither of two sentences is kept without the other.
func together(a, b place) bool { return a.group > 0 && a.group == b.group && a.rank == b.rank }

// ranks returns the places of all sentences, most important first.
func (d document) ranks() []place {
	var places []place
	for b, block := range d.blocks {
		for l, line := range block.lines {
			group := 0
			if block.groups != nil {
				group = block.groups[l]
			}
			for s, said := range line {
				places = append(places, place{position{b, l, s}, said.rank, group})
			}
		}
	}
	slices.SortStableFunc(places, func(a, b place) int {
		return cmp.Or(cmp.Compare(a.rank, b.rank), cmp.Compare(a.group, b.group))
	})
	return places
}

// cut returns the document with the first n places alone; lines and blocks left
// empty are gone.
func (d document) cut(ranks []place, n int) document {
	kept := map[position]bool{}
	for _, p := range ranks[:n] {
		kept[p.position] = true
	}
	out := document{title: d.title}
	for b, whole := range d.blocks {
		part := block{kind: whole.kind, heading: whole.heading, intro: whole.intro, head: whole.head}
		for l, line := range whole.lines {
			var sentences []said
			for s, said := range line {
				if kept[position{b, l, s}] {
					sentences = append(sentences, said)
				}
			}
			if len(sentences) > 0 {
				part.lines = append(part.lines, sentences)
			}
		}
		if len(part.lines) > 0 {
			out.blocks = append(out.blocks, part)
		}
	}
	return out
}

// render sets the document as text: blocks apart by a blank line.
func (d document) render() phrase {
	blocks := make([]phrase, len(d.blocks))
	for i, b := range d.blocks {
		blocks[i] = b.render()
	}
	return say("{}\n", join("\n\n", blocks...))
}

func (b block) render() phrase {
	lines := make([]phrase, len(b.lines))
	for i := range b.lines {
		lines[i] = b.line(i)
	}
	switch b.kind {
	case titleBlock:
		p := join(" ", lines...)
		p.markdown = "# " + p.markdown
		return p
	case bulleted:
		h := b.heading
		h.markdown = "## " + h.markdown
		return say("{}\n- {}", h, join("\n- ", lines...))
	case tabled:
		h := b.heading
		h.markdown = "## " + h.markdown
		return say("{}\n{}\n{}{}\n{}{}", h, b.intro, phrase{markdown: "```\n"}, b.head, join("\n", lines...), phrase{markdown: "\n```"})
	}
	return join(" ", lines...)
}

// line returns one line's sentences as running text.
func (b block) line(i int) phrase {
	sentences := make([]phrase, len(b.lines[i]))
	for j, s := range b.lines[i] {
		sentences[j] = s.phrase
	}
	return join(" ", sentences...)
}

// brief gives the document its outward form.
func (d document) brief(omitted int) *Brief {
	all := d.render()
	out := &Brief{Title: d.title, Markdown: all.markdown, Text: all.text, Facts: all.facts, Omitted: omitted}
	for _, b := range d.blocks {
		switch b.kind {
		case cautionBlock:
			for i := range b.lines {
				out.Cautions = append(out.Cautions, b.line(i).text)
			}
		case opening, bulleted:
			section := Section{Heading: b.heading.text}
			for i := range b.lines {
				section.Lines = append(section.Lines, strings.TrimSpace(b.line(i).text))
			}
			out.Sections = append(out.Sections, section)
		case tabled:
			section := Section{Heading: b.heading.text, Lines: []string{b.intro.text, b.head.text}}
			for i := range b.lines {
				section.Lines = append(section.Lines, strings.Split(b.line(i).text, "\n")...)
			}
			out.Sections = append(out.Sections, section)
		}
	}
	return out
}
