package picture

import (
	"math"
	"slices"
	"strings"

	"parcours.example/analysis/wording"
)

// who names a ride: the rider, the set-up where there are several, and the effort where a
// plan stands beside the rider's own.
func (s *sheet) who(r Ride) string {
	words := plain(r.Rider)
	for _, other := range s.Rides.All {
		if setup := plain(r.Setup); other.Setup != r.Setup && setup != "" {
			words += ", " + setup
			break
		}
	}
	switch {
	case r.Own:
		words += ", own effort"
	case r.Recorded:
		words += ", as ridden"
	case s.recorded():
		words += ", predicted"
	}
	return words
}

// recorded reports whether any of the rides was ridden.
func (s *sheet) recorded() bool {
	return slices.ContainsFunc(s.Rides.All, func(r Ride) bool { return r.Recorded })
}

// shortestForm is the index of the shortest form of a ride.
const shortestForm = 2

// rideForms tell a ride, from the fullest words to the shortest; the name goes before.
func (s *sheet) rideForms(r Ride) []string {
	switch {
	case r.Why != "":
		return []string{": no ride"}
	case !math.IsNaN(r.HaltAtM):
		return []string{": comes to a halt at " + s.Units.Length(r.HaltAtM)}
	}
	if math.IsNaN(r.MeanPowerW) {
		return []string{": " + wording.Clock(r.TimeS)}
	}
	told := ": " + wording.Clock(r.TimeS) + ", " + wording.Watts(r.MeanPowerW)
	dry, more := "", ""
	if !math.IsNaN(r.RunsDryAtM) {
		dry = "; W′ runs dry at " + s.Units.Length(r.RunsDryAtM)
	}
	if !math.IsNaN(r.CriticalPowerW) {
		more = ", critical power " + wording.Watts(r.CriticalPowerW)
	}
	if !math.IsNaN(r.ConstantPowerW) {
		more += ", best constant power " + wording.Watts(r.ConstantPowerW) + " in " + wording.Clock(r.ConstantTimeS)
	}
	return []string{told + " on average" + more + dry, told + " on average" + dry, told + dry}
}

// rideEntries say which line is whose, and how each ride goes.
func (s *sheet) rideEntries() (entries []entry) {
	lead := s.samplePx() + 8
	room := s.widthWithin() - lead
	fullness := s.fullness(room)
	for i, r := range s.Rides.All {
		words := s.rideWords(r, fullness, room)
		entries = append(entries, entry{lead + s.face.width(words, s.textPx), func(x, y float64) {
			s.rideSample(i, x, y)
			s.write(s.ink.Ink, atStart, point{x + lead, y + float64(0.35*s.textPx)}, words)
		}})
	}
	return entries
}

// fullness is the index of the fullest form in which every ride has room in a width, or
// the last.
func (s *sheet) fullness(widthPx float64) int {
	tooWide := func(form int) bool {
		return slices.ContainsFunc(s.Rides.All, func(r Ride) bool {
			return !s.fits(s.who(r)+formOf(s.rideForms(r), form), widthPx)
		})
	}
	form := 0
	for form < shortestForm && tooWide(form) {
		form++
	}
	return form
}

// formOf is a form of words, or the shortest where there are fewer.
func formOf(forms []string, form int) string { return forms[min(form, len(forms)-1)] }

// rideWords tell a ride in a form and a width; a name is cut rather than a number.
func (s *sheet) rideWords(r Ride, form int, widthPx float64) string {
	who, told := s.who(r), formOf(s.rideForms(r), form)
	return s.face.fitted(who, s.textPx, widthPx-s.face.width(told, s.textPx)) + told
}

// rideSummary tells what is ridden in one line.
func (s *sheet) rideSummary() string {
	from, to := s.Rides.FromM, s.Rides.ToM
	if from <= 0 && to >= s.Course.LengthM() {
		return s.summary()
	}
	told := []string{s.Units.Length(to-from) + ", from " + s.Units.Length(from) + " to " + s.Units.Length(to)}
	if s.Course.HasElevation() {
		told = append(told, s.Units.Height(s.Course.AscentM(from, to))+" of ascent")
	}
	return sentence(told)
}

// cautions say what the numbers are worth, from the fullest words to the shortest.
func (s *sheet) cautions() []string {
	full, short := "Times and speeds of a model, not of the day", "A model's numbers, not the day's"
	if s.Rides.Planned {
		full, short = "A plan asks for all that a rider has: ease off when the body says so", "Ease off when the body says so"
	}
	if s.Rides.Indoor {
		return []string{full + "; maximal efforts are for healthy, trained people.", short + "."}
	}
	return []string{full + "; closed roads only, and in bends and descents the road itself decides.", short + "; the road itself decides."}
}

// cautionLine is a line of the legend.
func (s *sheet) cautionLine() []entry {
	words := s.firstFitting(s.cautions(), s.widthWithin())
	return []entry{{s.face.width(words, s.textPx), func(x, y float64) {
		s.write(s.ink.Muted, atStart, point{x, y + float64(0.3*s.textPx)}, words)
	}}}
}

// describeRides tells the rides in words.
func (s *sheet) describeRides(g *ground, leftOut int) {
	s.d.Title = s.title() + ": predicted rides"
	switch {
	case s.Rides.Planned:
		s.d.Title = s.title() + ": planned rides"
	case s.recorded():
		s.d.Title = s.title() + ": as predicted and as ridden"
	}
	told := []string{s.rideSummary() + "."}
	for _, r := range s.Rides.All {
		told = append(told, s.rideTold(r))
	}
	if s.Course.HasElevation() {
		told = append(told, capital(s.exaggeration(g))+".")
	}
	s.d.describe(append(told, s.cautions()[0], leftOutTold(leftOut))...)
}

// rideTold tells a ride in sentences.
func (s *sheet) rideTold(r Ride) string {
	who := s.who(r)
	if r.Why != "" {
		return who + ": no ride; " + strings.TrimSuffix(plain(r.Why), ".") + "."
	}
	told := who + s.rideForms(r)[0] + "."
	if s.falls(r) {
		told += " Balance of W′ lowest at " + s.Units.Length(r.LowAtM) + " with " + wording.Kilojoules(r.LowJ) + "."
	}
	if !math.IsNaN(r.PlanTimeS) {
		told += " The plan that the steps are made of takes " + wording.Clock(r.PlanTimeS) + "."
	}
	return told + s.bandTold(r)
}

// bandTold says how far a ride's time can be trusted.
func (s *sheet) bandTold(r Ride) string {
	b := r.Band
	if b == nil || math.IsNaN(b.LowS) || math.IsNaN(b.HighS) || !math.IsNaN(r.HaltAtM) {
		return ""
	}
	low, high := wording.Clock(b.LowS), wording.Clock(b.HighS)
	if low == high {
		return ""
	}
	return " With " + wording.Certainty(b.CoveragePct) + " certainty between " + low + " and " + high + "."
}
