package recording

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/track"
)

// finding is what will be a note, with its place on the clock as it was mended.
type finding struct {
	code   string
	clockS float64
	count  int
	// seconds is what its places come to, where they last.
	seconds float64
	// detail is the sentence, which words makes of count and seconds where it is nil.
	detail string
	words  func(f *finding) string
}

// findings collects notes, one for each code.
type findings []*finding

// at counts a place of a kind of finding and returns it.
func (fs *findings) at(code string, clockS, seconds float64, words func(*finding) string) *finding {
	for _, f := range *fs {
		if f.code == code {
			f.count++
			f.seconds += seconds
			return f
		}
	}
	f := &finding{code: code, clockS: clockS, count: 1, seconds: seconds, words: words}
	*fs = append(*fs, f)
	return f
}

// takeFlaws takes what reading the file found, and samples without a time.
func (m *mending) takeFlaws(read *track.Samples) {
	for _, flaw := range read.Flaws {
		clock := math.NaN()
		if flaw.Sample >= 0 && flaw.Sample < len(read.Samples) {
			clock = read.Samples[flaw.Sample].ClockS
		}
		m.found = append(m.found, &finding{code: flaw.Code, clockS: clock, count: flaw.Count, detail: flaw.Detail})
	}
	if missing := len(read.Samples) - len(m.samples); missing > 0 {
		m.found = append(m.found, &finding{code: "time-missing", clockS: math.NaN(), count: missing, detail: fmt.Sprintf(
			"%s without a time %s left out.", counted(missing, "sample"), were(missing))})
	}
}

// notes returns the notes of what was found, those of the whole recording first.
func (m *mending) notes() []Note {
	first, last := m.samples[0].ClockS, m.samples[len(m.samples)-1].ClockS
	var notes []Note
	for _, f := range m.found {
		if f.words != nil {
			f.detail = f.words(f)
		}
		at := f.clockS // NaN stays NaN
		if at < first || at > last {
			at = min(max(at, first), last)
		}
		notes = append(notes, Note{Code: f.code, Detail: f.detail, AtS: at - first, Count: f.count})
	}
	slices.SortStableFunc(notes, func(a, b Note) int { return cmp.Compare(a.AtS, b.AtS) }) // NaN first
	return notes
}

// counted returns a number with its noun.
func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// were returns the verb for a number of things.
func were(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}
