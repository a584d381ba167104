package brief

import (
	"bytes"
	"encoding/csv"
	"math"
	"slices"
	"strconv"
	"strings"

	"parcours.example/analysis/itinerary"
	"parcours.example/analysis/wording"
)

// CSV returns the whole itinerary as RFC 4180 has it, with a header. The columns are the
// distance covered and to go and the elevation in the units of the words, the lap, the
// pass, what is there and the names of the places, several things apart by "; "; then the
// clocks as h:mm:ss. Times of day count the hours on past midnight, so that a spreadsheet
// can subtract them. No cell of words can become a formula.
func (t *Itinerary) CSV() []byte {
	var b bytes.Buffer
	out := csv.NewWriter(&b)
	out.UseCRLF = true
	records := [][]string{t.header()}
	for i := range t.Lines {
		records = append(records, t.record(i))
	}
	out.WriteAll(records) //nolint:errcheck // writing to memory doesn't fail
	return b.Bytes()
}

// header names the columns with their units.
func (t *Itinerary) header() []string {
	long, short := "km", "m"
	if t.Units == Imperial {
		long, short = "miles", "ft"
	}
	names := []string{"covered_" + long, "to_go_" + long, "elevation_" + short, "lap", "pass", "what", "place"}
	clock := "elapsed_h_mm_ss"
	if !math.IsNaN(t.StartS) {
		clock = "time_of_day_h_mm_ss"
	}
	for _, head := range t.Heads {
		names = append(names, clock+": "+head)
	}
	return names
}

// record is a row's cells.
func (t *Itinerary) record(i int) []string {
	r, line := t.Rows[i], t.Lines[i]
	cells := []string{
		line.Covered, line.ToGo, line.Elevation, counted(r.Lap), passes(r.Things),
		inert(strings.Join(line.Things, "; ")), inert(unmarked(strings.Join(distinct(line.Places), "; "))),
	}
	for _, c := range t.Columns {
		clock := c.ClocksS[i]
		if !math.IsNaN(t.StartS) {
			clock += t.StartS
		}
		cells = append(cells, wording.LongClock(clock))
	}
	return cells
}

// unmarked drops the marks of direction behind names, so that they compare as they are.
func unmarked(names string) string { return strings.ReplaceAll(names, leftToRightMark, "") }

// counted writes a number that counts from 1, nothing for 0.
func counted(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// passes lists the different passes of a row's things.
func passes(things []itinerary.Thing) string {
	var all []string
	for _, t := range things {
		all = append(all, counted(t.Pass))
	}
	return strings.Join(distinct(all), "; ")
}

// distinct drops what is empty or has been before.
func distinct(texts []string) []string {
	var out []string
	for _, s := range texts {
		if s != "" && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

// inert keeps a spreadsheet from taking a cell of words for a formula (OWASP, CSV
// Injection): what starts like one gets an apostrophe in front.
func inert(cell string) string {
	if strings.IndexFunc(cell, startsFormula) == 0 {
		return "'" + cell
	}
	return cell
}

func startsFormula(r rune) bool { return strings.ContainsRune("=+-@\t\r\n＝＋－＠", r) }
