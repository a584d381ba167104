package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
)

// selected returns what is shown of some rounds and riders alone, in the order in which the
// query names them with round= and rider=; all of them where it names none. It fails for one
// that isn't there.
func (s shown) selected(q url.Values) (shown, error) {
	var err error
	if s.Rounds, err = pick(s.Rounds, q["round"], "round", func(r shownRound) string { return r.RoundID }); err != nil {
		return s, err
	}
	if len(q["rider"]) == 0 {
		return s, nil
	}
	if s.Riders, err = pick(s.Riders, q["rider"], "rider", func(r shownRider) string { return r.Rider }); err != nil {
		return s, err
	}
	for i := range s.Rounds {
		s.Rounds[i].Times = slices.DeleteFunc(slices.Clone(s.Rounds[i].Times), func(t shownTime) bool { return !slices.Contains(q["rider"], t.Rider) })
	}
	return s, nil
}

// pick returns those of all that are named, in the order of the names.
func pick[T any](all []T, names []string, thing string, nameOf func(T) string) ([]T, error) {
	if len(names) == 0 {
		return slices.Clone(all), nil
	}
	at := make(map[string]int, len(all))
	for i, one := range all {
		at[nameOf(one)] = i
	}
	var picked []T
	for k, name := range names {
		if slices.Contains(names[:k], name) {
			continue
		}
		i, ok := at[name]
		if !ok {
			return nil, fmt.Errorf("there is no %s %q", thing, name)
		}
		picked = append(picked, all[i])
	}
	return picked, nil
}

// roundsCSV is a table of the rounds, a line for each, with a column for each rider's time.
func (s shown) roundsCSV() []byte {
	lines := [][]string{{
		"round_id", "name", "distance_m", "ascent_m", "ascent_m_per_km", "h2_index", "share_before_last_climb", "rolling_m_per_km",
		"climbs_count", "laps_count", "shape", "decisive", "answered_at", "problem",
	}}
	for _, r := range s.Riders {
		lines[0] = append(lines[0], r.Rider+" time_s")
	}
	for _, r := range s.Rounds {
		line := []string{
			r.RoundID, r.Name, figure(r.DistanceM), figure(r.AscentM), figure(r.AscentMPerKm), figure(r.H2Index), figure(r.ShareBeforeLastClimb),
			figure(r.RollingMPerKm), whole(r.ClimbsCount), whole(r.LapsCount), r.Shape, r.Decisive, moment(r.AnsweredAt), r.whyNot(),
		}
		for _, rider := range s.Riders {
			line = append(line, figure(r.timeOf(rider.Rider).TimeS))
		}
		lines = append(lines, line)
	}
	return table(lines)
}

// timesCSV is a table of all times, a line for each rider and set-up in each round.
func (s shown) timesCSV() []byte {
	lines := [][]string{{
		"round_id", "name", "rider", "setup", "counts", "place", "time_s", "time_low_s", "time_high_s", "mean_speed_mps", "suitability_pct", "why_not",
	}}
	for _, r := range s.Rounds {
		for _, t := range r.Times {
			place := ""
			if t.Place > 0 {
				place = strconv.Itoa(t.Place)
			}
			lines = append(lines, []string{
				r.RoundID, r.Name, t.Rider, t.Setup, strconv.FormatBool(t.Counts), place, figure(t.TimeS), figure(t.TimeLowS), figure(t.TimeHighS),
				figure(t.MeanSpeedMps), figure(t.SuitabilityPct), t.WhyNot,
			})
		}
	}
	return table(lines)
}

// timeOf returns the time that counts for a rider; one without a time where none does.
func (r shownRound) timeOf(rider string) shownTime {
	i := slices.IndexFunc(r.Times, func(t shownTime) bool { return t.Counts && t.Rider == rider })
	if i < 0 {
		return shownTime{}
	}
	return r.Times[i]
}

// whyNot says why there are no figures, "" where there are.
func (r shownRound) whyNot() string {
	switch {
	case r.Problem != nil:
		return r.Problem.words()
	case r.AnsweredAt == nil:
		return "not answered yet"
	}
	return ""
}

// table writes lines as CSV after RFC 4180.
func table(lines [][]string) []byte {
	var out bytes.Buffer
	writer := csv.NewWriter(&out)
	writer.UseCRLF = true
	for _, line := range lines {
		for i := range line {
			line[i] = harmless(line[i])
		}
		_ = writer.Write(line) // to memory, it never fails
	}
	writer.Flush()
	return out.Bytes()
}

// harmless is a cell that a spreadsheet takes for what it is: one that isn't a number and would
// be taken for a formula gets an apostrophe in front.
func harmless(cell string) string {
	if cell == "" || !strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
		return cell
	}
	if _, err := strconv.ParseFloat(cell, 64); err == nil {
		return cell
	}
	return "'" + cell
}

// figure writes a number as the service gave it, "" for none.
func figure(x *float64) string {
	if x == nil {
		return ""
	}
	return strconv.FormatFloat(*x, 'f', -1, 64)
}

func whole(n *int) string {
	if n == nil {
		return ""
	}
	return strconv.Itoa(*n)
}

// moment writes a time as RFC 3339 has it, "" for none.
func moment(t *time.Time) string {
	if t == nil {
		return ""
	}
	return t.UTC().Format(time.RFC3339)
}
