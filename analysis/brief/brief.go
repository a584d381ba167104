// Package brief tells a course in words: what it is, what decides it, where every
// climb and mark falls on every pass, how long riders take, and what to beware of.
//
// A brief is made of sentences, each with a rank. Where a limit is set, the least
// important sentences are left out whole, so that a shorter brief is always part
// of a longer one. Wording follows from the facts alone: the same input gives the
// same text.
//
// Every number goes through one formatter, which rounds the value that the course
// or the ride holds, and is recorded among the facts as it stands in the text.
// Covered and remaining distance are rounded each by itself, but in the itinerary, where
// the printed ones add up to the printed length.
package brief

import (
	"parcours.example/analysis/course"
	"parcours.example/analysis/food"
	"parcours.example/analysis/itinerary"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/terrain"
)

// Units are the units of the text. Facts stay in SI units.
type Units string

// The systems of units.
const (
	// Metric writes km, m, km/h and kg.
	Metric Units = "metric"
	// Imperial writes miles, feet, mph and lb.
	Imperial Units = "imperial"
)

// MinChars is the smallest limit that leaves room for the short caution and the
// first sentence of any course.
const MinChars = 120

// Input is what a brief is written from.
type Input struct {
	Course  *course.Course
	Terrain *terrain.Terrain
	// Rides are the predictions to tell, in the order to tell them; may be empty.
	Rides []Ride
	// Units is Metric where empty.
	Units Units
	// MaxChars is the most code points that Markdown and Text may each have, at
	// least MinChars; 0 for no limit.
	MaxChars int
	// Answers are those to race questions; nil where none were asked.
	Answers *Answers
	// Indoor leaves out what matters on roads alone: bends and descents.
	Indoor bool
	// Itinerary is told as a table; nil for none. It must be the course's.
	Itinerary *itinerary.Table
}

// Ride is one prediction to tell. NaN means not known in every number.
type Ride struct {
	// Rider and Setup are names, untrusted; either may be empty.
	Rider, Setup string
	// MassKg is the rider's body mass; it stands in for a missing name.
	MassKg float64
	// TimeS is the time over the course, MeanSpeedMps the distance over it,
	// MeanPowerW the time-mean of the rider's power.
	TimeS, MeanSpeedMps, MeanPowerW float64
	// RunsDryAtM is where the balance of work above critical power first falls
	// below zero; NaN where it never does or isn't known.
	RunsDryAtM float64
	// ClimbTimesS holds the time over each pass of each climb, by the indices of
	// Terrain.Climbs and its Passes. Missing entries are left untold.
	ClimbTimesS [][]float64
	// PartTimesS holds the time over each part, by the index of Course.Parts.
	PartTimesS []float64
	// MarkClocksS holds the clock at each pass of each mark, by the indices of
	// Terrain.Marks and its Passes.
	MarkClocksS [][]float64
	// CannotClimb says that the rider comes to a halt at StopsAtM; the times are
	// then not told.
	CannotClimb bool
	// StopsAtM is where, in metres from the start; NaN where not known.
	StopsAtM float64
	// Band is how far the time can be trusted; nil where it isn't known.
	Band *ride.Band
	// Pace is nil unless the ride follows a plan.
	Pace *Pace
	// Food is what the ride takes; nil where it isn't known.
	Food *food.Needs
}

// Brief is a written brief.
type Brief struct {
	// Title is the course's name made harmless, or a stand-in; it is complete
	// whatever the limit.
	Title string
	// Markdown is the brief in CommonMark, Text the same in plain text. Both end
	// with a line break.
	Markdown, Text string
	// Sections hold what the text holds, in plain text, without title and
	// cautions. The opening section has no heading.
	Sections []Section
	// Facts are the numbers in the text, in order of reading.
	Facts []Fact
	// Cautions are those in the text; the short one comes first and is never left
	// out.
	Cautions []string
	// Omitted counts the sentences and rows left out for MaxChars.
	Omitted int
	// Itinerary is nil unless asked for.
	Itinerary *Itinerary
}

// Section is a stretch of the brief under one heading.
type Section struct {
	Heading string
	Lines   []string
}

// Fact is a number of the text.
type Fact struct {
	// Name says what it is, with its unit, for instance "climb-1.length_m".
	Name string
	// Value is unrounded, in the unit of the name.
	Value float64
	// Text is the number as it stands in the text, with its unit where the text
	// gives one beside it.
	Text string
}

// Write tells a course. Course and Terrain must be given and belong together.
func Write(in Input) *Brief {
	w := writer{in: in, format: format{imperial: in.Units == Imperial}}
	if in.Itinerary != nil {
		w.rows = w.rowWords(in.Itinerary)
	}
	b := w.layout().fit(in.MaxChars)
	if in.Itinerary != nil {
		b.Itinerary = w.inWords(in.Itinerary)
	}
	return b
}

// writer holds what every section is written from.
type writer struct {
	in Input
	format
	// rows are those of the itinerary; nil without one.
	rows []rowWords
}
