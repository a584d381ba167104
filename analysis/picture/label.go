package picture

import (
	"math"
	"slices"

	"parcours.example/analysis/colour"
)

// label is a text that belongs to a place and may be left out.
type label struct {
	// forms are the words from the fullest to the shortest; the first that finds room is
	// written.
	forms []string
	// at is its place on the paper, atM along the course in metres.
	at  point
	atM float64
	ink colour.RGB
	// rank is 0 for the most important; labels of a rank are placed in the order given.
	rank int
}

// placer finds room for labels. Nothing that it holds meets anything else that it holds.
type placer struct {
	bounds box
	// taken is the room of texts and of the lines that lead to them.
	taken  []box
	sizePx float64
	face   *typeface
	// leftOut counts the labels without room.
	leftOut int
}

// free reports whether room lies in the bounds and meets nothing.
func (p *placer) free(b box) bool {
	return b.within(p.bounds) && !slices.ContainsFunc(p.taken, b.meets)
}

// margins that a label keeps from others, in px.
const besideLabelPx, aboveLabelPx = 3, 1

// leaderPx is half the width that is kept free for the line from a label to its place.
const leaderPx = 1

// mostLabels is the most labels that are tried: where there are more, the paper is full
// long before.
const mostLabels = 600

// ranked puts labels in order of their rank and returns those that are tried.
func (p *placer) ranked(labels []label) []label {
	slices.SortStableFunc(labels, func(a, b label) int { return a.rank - b.rank })
	tried := labels[:min(len(labels), mostLabels)]
	p.leftOut += len(labels) - len(tried)
	return tried
}

// above writes each label above its place, as near as it finds room, with a line down to
// the place. top says how high the ground reaches between two places. The fullest words
// that leave room for the labels of first passes still to come go first.
func (p *placer) above(d *Drawing, labels []label, top func(x0, x1 float64) float64, line colour.RGB) {
	labels = p.ranked(labels)
	toCome := firstPasses(labels)
	for _, l := range labels {
		toCome = toCome[min(1, len(toCome)):] // first passes are in front, in this order
		if !p.placeAbove(d, l, top, toCome, line) && (len(toCome) == 0 || !p.placeAbove(d, l, top, nil, line)) {
			p.leftOut++
		}
	}
}

// firstPasses are the places of the labels of first passes, in their order.
func firstPasses(labels []label) (at []point) {
	for _, l := range labels {
		if l.rank < rankAgain {
			at = append(at, l.at)
		}
	}
	return at
}

func (p *placer) placeAbove(d *Drawing, l label, top func(x0, x1 float64) float64, toCome []point, line colour.RGB) bool {
	for _, words := range l.forms {
		width := tenth(p.face.width(words, p.sizePx))
		for _, left := range [...]float64{l.at.x - width/2, l.at.x - 4, l.at.x - width + 4} {
			left = min(max(left, p.bounds.x0), p.bounds.x1-width)
			if at, ok := p.roomAbove(left, width, l.at, top(left, left+width), toCome); ok {
				leader := box{l.at.x - leaderPx, at.y1, l.at.x + leaderPx, l.at.y}
				p.taken = append(p.taken, at.grown(besideLabelPx, aboveLabelPx), leader)
				d.draw(line, 1, []point{{l.at.x, at.y1}, {l.at.x, l.at.y - 5}})
				d.write(l.ink, p.sizePx, atStart, point{left, at.y1 - float64(descentShare*p.sizePx)}, words)
				return true
			}
		}
	}
	return false
}

// roomAbove finds room of a width from the ground upwards, whose line down to a place
// crosses no other label, and below which labels to come find room too.
func (p *placer) roomAbove(left, width float64, place point, ground float64, toCome []point) (box, bool) {
	column := p.takenBetween(left, left+width)
	ceiling := p.ceiling(place)
	bottom := math.Round(min(ground, place.y) - 8)
	for ; bottom-p.high() >= p.bounds.y0 && bottom >= ceiling; bottom -= math.Round(p.sizePx / 2) {
		b := p.line(left, width, bottom)
		if b.within(p.bounds) && !slices.ContainsFunc(column, b.meets) && p.clear(b, toCome) {
			return b, true
		}
	}
	return box{}, false
}

// takenBetween returns what is taken between two places, however high.
func (p *placer) takenBetween(x0, x1 float64) (some []box) {
	for _, t := range p.taken {
		if t.x0 < x1 && x0 < t.x1 {
			some = append(some, t)
		}
	}
	return some
}

// ceiling returns how high a line may rise from a place without crossing what is taken.
func (p *placer) ceiling(place point) float64 {
	top := p.bounds.y0
	for _, t := range p.taken {
		if t.x0 < place.x+leaderPx && place.x-leaderPx < t.x1 && t.y0 < place.y {
			top = max(top, t.y1)
		}
	}
	return top
}

// high is the height of a line of text.
func (p *placer) high() float64 { return float64((ascentShare + descentShare) * p.sizePx) }

// line is the room of a line of text near a bottom, where its base line lies on a pixel.
func (p *placer) line(left, width, bottom float64) box {
	base := math.Round(bottom - float64(descentShare*p.sizePx))
	return box{left, base - float64(ascentShare*p.sizePx), left + width, base + float64(descentShare*p.sizePx)}
}

// clear reports whether a label has room below a box at each place that it lies over.
func (p *placer) clear(b box, places []point) bool {
	return !slices.ContainsFunc(places, func(at point) bool {
		return b.x0-besideLabelPx < at.x && at.x < b.x1+besideLabelPx && b.y1 > at.y-p.high()-11
	})
}

// around writes each label beside its place, where it finds room.
func (p *placer) around(d *Drawing, labels []label) {
	for _, l := range p.ranked(labels) {
		if !p.placeAround(d, l) {
			p.leftOut++
		}
	}
}

func (p *placer) placeAround(d *Drawing, l label) bool {
	for _, words := range l.forms {
		width := tenth(p.face.width(words, p.sizePx))
		for _, off := range [...]float64{9, 15, 22} {
			if b, ok := p.roomAround(l.at, width, off); ok {
				p.taken = append(p.taken, b.grown(besideLabelPx, aboveLabelPx))
				d.write(l.ink, p.sizePx, atStart, point{b.x0, b.y1 - float64(descentShare*p.sizePx)}, words)
				return true
			}
		}
	}
	return false
}

// roomAround finds room of a width at a distance in px from a place.
func (p *placer) roomAround(at point, width, off float64) (box, bool) {
	high := p.high()
	for _, c := range [...]point{
		{off, -high / 2},
		{-off - width, -high / 2},
		{-width / 2, -off - high},
		{-width / 2, off},
		{off, -off - high},
		{off, off},
		{-off - width, -off - high},
		{-off - width, off},
	} {
		if b := p.line(at.x+c.x, width, at.y+c.y+high); p.free(b) {
			return b, true
		}
	}
	return box{}, false
}
