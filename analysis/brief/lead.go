package brief

// The ranks of sentences: the lower, the later left out.
const (
	rankAlways = iota
	rankDistance
	rankTitle
	rankPlan
	rankDecides
	rankCaution
)

// layout gathers everything there is to say, in order of reading.
func (w writer) layout() document {
	title := name(w.in.Course.Name)
	if title.empty() {
		title = words("Course brief")
	}
	lead := block{kind: opening, lines: [][]said{{{rankDistance, w.distance()}}}}
	return document{title: title.text, blocks: []block{
		{kind: titleBlock, lines: [][]said{{{rankTitle, title}}}},
		lead,
		w.cautions(),
	}}
}

// distance is the first sentence: how far, and how much of it up.
func (w writer) distance() phrase {
	c := w.in.Course
	length := w.length("distance_m", c.LengthM())
	ascent := c.AscentM(0, c.LengthM())
	if !w.counts(ascent) {
		return say("{}.", length)
	}
	return say("{} with {} of climbing.", length, w.height("ascent_m", ascent))
}
