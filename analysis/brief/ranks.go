package brief

// The ranks of sentences: the lower, the later left out.
const (
	rankAlways = iota
	rankDistance
	rankTitle
	// What was asked of the race counts more than what can be read off the course.
	rankChoice
	rankWinner
	rankSurprise // what decides, where the plan alone would mislead
	rankPlan
	rankAmbition
	rankLaunch
	rankPoints
	rankAid
	rankChange
	rankDecides
	rankTimesLead
	rankFinish
	rankOver
	rankBend
	rankSplit
	rankOtherwise
	rankFront
	rankKeyClimb
	rankKeyPasses
	rankSprint
	rankKeySections
	rankSections
	rankLeeway
	rankAidAtLine
	rankOpened
	rankAidLess
	rankChoiceElsewhere
	rankTeamPoints
	rankDuel
	rankLapBends
	rankClimb
	rankClimbPasses
	rankTimes
	rankSteepPart
	rankTrust
	rankCaution
	rankSummit
	rankGate
	rankPart
	rankShare
	rankKeySteepest
	rankBand
	rankSplits
	rankFeed
	rankFood
	rankDescent
	rankGround
	rankLapStarts
	rankHeights
	rankOther
	rankClocks
)

// Added to a rank: what a sprint's approach counts less than its place, and a
// long list less than a short one.
const (
	rankApproach   = 3
	rankManyPasses = 10
)

// layout gathers everything there is to say, in order of reading.
func (w writer) layout() document {
	title := name(w.in.Course.Name)
	if title.empty() {
		title = words("Course brief")
	}
	head := opens(said{rankTitle, title})
	head.kind = titleBlock
	blocks := append([]block{head, w.lead()}, w.ambitions()...)
	blocks = append(blocks, w.sections()...)
	return document{title: title.text, blocks: append(blocks, w.trust(), w.itinerary(), w.cautions())}
}

// opens makes a paragraph of what isn't empty.
func opens(sentences ...said) block {
	return block{kind: opening, lines: spoken([][]said{sentences})}
}

// bullets makes a list of what isn't empty.
func bullets(heading string, lines ...[]said) block {
	return block{kind: bulleted, heading: words(heading), lines: spoken(lines)}
}

// spoken drops empty sentences.
func spoken(lines [][]said) [][]said {
	out := make([][]said, len(lines))
	for i, line := range lines {
		for _, s := range line {
			if !s.empty() {
				out[i] = append(out[i], s)
			}
		}
	}
	return out
}
