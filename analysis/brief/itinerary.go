package brief

import (
	"fmt"
	"math"

	"parcours.example/analysis/itinerary"
	"parcours.example/analysis/wording"
)

// Itinerary is an itinerary in words. Whatever MaxChars leaves out of the text, it is
// whole.
type Itinerary struct {
	*itinerary.Table
	// Units are those of the words.
	Units Units
	// Heads name the columns of clocks: an average speed, or a rider.
	Heads []string
	// Lines are the rows' words, one for each of Table.Rows.
	Lines []ItineraryLine
	// Notes say what to know about the clocks.
	Notes []ItineraryNote
}

// ItineraryLine is one row in words.
type ItineraryLine struct {
	// Covered and ToGo are in the long unit, to a hundredth of it; what is printed adds up
	// to the course's length. Elevation is in the short unit, empty where it isn't known.
	Covered, ToGo, Elevation string
	// Things are what is there, in words, Places their names: one for each of the row's
	// things, a place without a name empty.
	Things, Places []string
	// Clocks are elapsed times, or times of day where the itinerary has a start.
	Clocks []string
}

// ItineraryNote is something to know about an itinerary.
type ItineraryNote struct {
	// Code is stable: "speeds-chosen", "rider-halts".
	Code, Text string
	// AtM is the place on the course, NaN for none.
	AtM float64
}

// rowWords are the words of one row with their numbers.
type rowWords struct {
	covered, toGo, level, lap phrase
	clocks                    []phrase
	things                    []thingWords
}

// rowWords puts every row of the itinerary into words.
func (w writer) rowWords(t *itinerary.Table) []rowWords {
	rows := make([]rowWords, len(t.Rows))
	for i, r := range t.Rows {
		fact := rowFact(i)
		c := rowWords{
			covered: number(fact+".at_m", r.AtM, w.units().Covered(r.AtM)),
			toGo:    number(fact+".to_finish_m", r.ToFinishM, w.units().ToGo(t.LengthM, r.AtM)),
		}
		if !math.IsNaN(r.ElevationM) {
			c.level = number(fact+".elevation_m", r.ElevationM, w.units().Level(r.ElevationM))
		}
		if r.Lap > 0 {
			c.lap = w.ordinal(fact+".lap", r.Lap)
		}
		for k := range t.Columns {
			c.clocks = append(c.clocks, clockCell(t, i, k))
		}
		for _, thing := range r.Things {
			c.things = append(c.things, w.thing(fact, thing))
		}
		rows[i] = c
	}
	return rows
}

func rowFact(i int) string { return fmt.Sprintf("itinerary.row-%d", i+1) }

// clockCell writes a clock as elapsed time, or as a time of day where there is a start.
// Only the first columns can stand in the text and be facts.
func clockCell(t *itinerary.Table, row, k int) phrase {
	clockS, kind, text := t.Columns[k].ClocksS[row], "clock_s", wording.Clock
	if !math.IsNaN(t.StartS) {
		clockS, kind, text = t.StartS+clockS, "time_of_day_s", wording.TimeOfDay
	}
	if k >= mostClocks {
		return words(text(clockS))
	}
	return number(fmt.Sprintf("%s.column-%d.%s", rowFact(row), k+1, kind), clockS, text(clockS))
}

// inWords gives the itinerary its outward form.
func (w writer) inWords(t *itinerary.Table) *Itinerary {
	out := &Itinerary{Table: t, Units: Metric, Notes: w.itineraryNotes(t)}
	if w.imperial {
		out.Units = Imperial
	}
	for k := range t.Columns {
		out.Heads = append(out.Heads, w.head(t, k))
	}
	for _, c := range w.rows {
		line := ItineraryLine{Covered: c.covered.text, ToGo: c.toGo.text, Elevation: c.level.text}
		for _, clock := range c.clocks {
			line.Clocks = append(line.Clocks, clock.text)
		}
		for _, thing := range c.things {
			line.Things = append(line.Things, thing.whole().text)
			line.Places = append(line.Places, thing.place.text)
		}
		out.Lines = append(out.Lines, line)
	}
	return out
}

// head names a column of clocks.
func (w writer) head(t *itinerary.Table, k int) string {
	if c := t.Columns[k]; math.IsNaN(c.SpeedMps) {
		return w.rides(t, c.Rider, c.Setup).text
	}
	return w.units().Speed(t.Columns[k].SpeedMps)
}

// rides names a rider, and the set-up where the columns have several.
func (w writer) rides(t *itinerary.Table, rider, setup string) phrase {
	who, on := name(rider), name(setup)
	if who.empty() {
		who = words("a rider")
	}
	for _, c := range t.Columns {
		if math.IsNaN(c.SpeedMps) && c.Setup != setup && !on.empty() {
			return say("{}, {}", who, on)
		}
	}
	return who
}

// itineraryNotes are what to know about the clocks.
func (w writer) itineraryNotes(t *itinerary.Table) []ItineraryNote {
	var notes []ItineraryNote
	if t.Ordinary != nil {
		notes = append(notes, ItineraryNote{"speeds-chosen", w.chosen(t).text, t.Ordinary.HaltsAtM})
	}
	for _, h := range t.Halted {
		text := say("{} comes to a halt at this effort and has no column.", capital(w.rides(t, h.Rider, h.Setup)))
		if !math.IsNaN(h.AtM) {
			text = say("{} comes to a halt {} at this effort and has no column.", capital(w.rides(t, h.Rider, h.Setup)), w.at("", h.AtM))
		}
		notes = append(notes, ItineraryNote{"rider-halts", text.text, h.AtM})
	}
	return notes
}

// chosen says what the speeds were chosen by.
func (w writer) chosen(t *itinerary.Table) phrase {
	const fact = "itinerary.ordinary"
	o := t.Ordinary
	who := say("a rider of {} at {}", w.mass(fact+".mass_kg", o.MassKg), w.power(fact+".power_w", o.PowerW))
	switch {
	case !math.IsNaN(o.MeanSpeedMps):
		return say("The speeds lie around {}, the prediction for {}.", w.speed(fact+".mean_speed_mps", o.MeanSpeedMps), who)
	case !math.IsNaN(o.HaltsAtM):
		return capital(say("{} comes to a halt {}; the speeds are a guess.", who, w.at(fact+".halts_at_m", o.HaltsAtM)))
	}
	return capital(say("{} comes to a halt; the speeds are a guess.", who))
}
