// Package itinerary sets a course out in rows, as a road book does: every place that
// counts on every pass, with the distance covered and to go, the elevation, and when it is
// passed, at average speeds or by riders' predictions.
//
// Positions are metres along the course. Clocks are seconds from the start's own clock;
// only Table.StartS makes a time of day of them.
package itinerary

// Kind says what a place is.
type Kind string

// The kinds of places.
const (
	Start Kind = "start"
	// RacingBegins is the end of a neutral stretch.
	RacingBegins Kind = "racing_begins"
	// Lap is where a lap begins, OtherLap where one of another circuit than that of the
	// course's laps does, RunOut where the last lap has ended.
	Lap      Kind = "lap"
	OtherLap Kind = "other_lap"
	RunOut   Kind = "run_out"
	// Top and Foot are those of a climb; SteepEnd and SteepStart bound a steep part of one.
	Top        Kind = "top"
	SteepEnd   Kind = "steep_end"
	Sprint     Kind = "sprint"
	Summit     Kind = "summit"
	Gate       Kind = "gate"
	Feed       Kind = "feed"
	Other      Kind = "other"
	Foot       Kind = "foot"
	SteepStart Kind = "steep_start"
	Finish     Kind = "finish"
)

// Thing is what a row is there for.
type Thing struct {
	Kind Kind
	// Index is the climb's in Terrain.Climbs, the mark's in Terrain.Marks, the circuit's in
	// Course.OtherCircuits; else 0.
	Index int
	// Lap is the 1-based lap that it belongs to, of the other circuit for OtherLap; 0
	// outside laps.
	Lap int
	// Pass counts the passes of a climb or a mark over the whole course from 1, Passes is
	// how many there are; else both are 0.
	Pass, Passes int

	atM float64
}

// Row is one place. The distance covered and ToFinishM add up to the course's length.
type Row struct {
	AtM, ToFinishM float64
	// ElevationM is NaN on a course without elevation.
	ElevationM float64
	// Lap is the 1-based lap, 0 outside laps. A line between two laps belongs to the later.
	Lap int
	// Things are one or more, in the order of their kinds.
	Things []Thing
}

// Column is when the rows are passed, at an average speed or by a rider.
type Column struct {
	// SpeedMps is the average speed, NaN for a rider.
	SpeedMps float64
	// Rider and Setup are names, untrusted; empty for a speed.
	Rider, Setup string
	// ClocksS has a clock for each row.
	ClocksS []float64
}

// Table is a whole itinerary.
type Table struct {
	LengthM float64
	// StartS is when the clocks start, in seconds after midnight, 0 ≤ StartS < 86,400; NaN
	// for clocks that tell elapsed time.
	StartS  float64
	Neutral Neutral
	Rows    []Row
	Columns []Column
	// Ordinary is set where the speeds were chosen.
	Ordinary *Ordinary
	// Halted are the riders who don't reach the finish and have no column.
	Halted []Halt
}

// Ordinary is the rider whose predicted mean speed the chosen speeds are set around.
type Ordinary struct {
	MassKg, PowerW float64
	// MeanSpeedMps is NaN where the rider comes to a halt, at HaltsAtM.
	MeanSpeedMps, HaltsAtM float64
}

// Halt is where a rider comes to a halt.
type Halt struct {
	Rider, Setup string
	// AtM is NaN where it isn't known.
	AtM float64
}
