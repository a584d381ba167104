// Package when reads a schedule in plain words and says when it falls due.
//
// These are schedules, with a clock of 24 hours:
//
//	every Thursday at 18:00
//	every Monday and Thursday at 07:30
//	every day at 12:00
//	2 days before at 18:00
//	on the day at 08:00
//	on 2026-12-03 at 18:00
//
// "before" and "on the day" are counted from each round's date.
package when

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Date is a day of the calendar.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// DateOf returns the day on which a moment falls where the moment's clock stands.
func DateOf(t time.Time) Date {
	y, m, d := t.Date()
	return Date{y, m, d}
}

// ParseDate reads a day like 2026-12-03.
func ParseDate(text string) (Date, error) {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return Date{}, fmt.Errorf("%q is not a day like 2026-12-03", text)
	}
	return DateOf(t), nil
}

// Before reports whether d is an earlier day than other.
func (d Date) Before(other Date) bool { return d.midnight().Before(other.midnight()) }

// String writes the day like 2026-12-03.
func (d Date) String() string { return d.midnight().Format(time.DateOnly) }

func (d Date) midnight() time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC) }

func (d Date) plus(days int) Date { return DateOf(d.midnight().AddDate(0, 0, days)) }

// Schedule is when something is to be done, again and again or once.
type Schedule struct {
	// weekdays are those of "every"; days is how long before each round, -1 where it isn't
	// counted from rounds; once is the day of a schedule that falls due once.
	weekdays []time.Weekday
	days     int
	once     *Date

	hour, minute int
	zone         *time.Location
}

// MostDaysBefore is the longest time before a round that a schedule may say.
const MostDaysBefore = 60

// Parse reads a schedule whose clock stands in a zone.
func Parse(text string, zone *time.Location) (Schedule, error) {
	s := Schedule{days: -1, zone: zone}
	words := strings.Fields(strings.ToLower(strings.ReplaceAll(text, ",", " ")))
	bad := fmt.Errorf("%q is not a schedule like “every Thursday at 18:00”, “2 days before at 18:00”, “on the day at 08:00” or “on 2026-12-03 at 18:00”", text)
	if len(words) < 3 {
		return s, bad
	}
	clock, err := time.Parse("15:04", words[len(words)-1])
	if err != nil {
		return s, fmt.Errorf("%q doesn't end in a time like 18:00", text)
	}
	s.hour, s.minute = clock.Hour(), clock.Minute()
	words = words[:len(words)-1]
	if words[len(words)-1] == "at" {
		words = words[:len(words)-1]
	}
	if !s.readDays(words) {
		return s, bad
	}
	return s, nil
}

// readDays reads what stands before the time of day.
func (s *Schedule) readDays(words []string) bool {
	switch {
	case len(words) < 2:
		return false
	case words[0] == "every":
		return s.readWeekdays(words[1:])
	case slices.Equal(words, []string{"on", "the", "day"}):
		s.days = 0
		return true
	case words[0] == "on" && len(words) == 2:
		d, err := ParseDate(words[1])
		s.once = &d
		return err == nil
	case len(words) == 3 && (words[1] == "days" || words[1] == "day") && words[2] == "before":
		n, err := strconv.Atoi(words[0])
		s.days = n
		return err == nil && 1 <= n && n <= MostDaysBefore
	}
	return false
}

func (s *Schedule) readWeekdays(words []string) bool {
	if slices.Equal(words, []string{"day"}) {
		for d := time.Sunday; d <= time.Saturday; d++ {
			s.weekdays = append(s.weekdays, d)
		}
		return true
	}
	for _, w := range words {
		if w == "and" {
			continue
		}
		d, ok := weekday(w)
		if !ok {
			return false
		}
		s.weekdays = append(s.weekdays, d)
	}
	return len(s.weekdays) > 0
}

// weekday reads the name of a day in full or by its first three letters.
func weekday(w string) (time.Weekday, bool) {
	for d := time.Sunday; d <= time.Saturday; d++ {
		name := strings.ToLower(d.String())
		if w == name || w == name[:3] {
			return d, true
		}
	}
	return 0, false
}

// OfRounds reports whether the schedule is counted from the rounds' dates.
func (s Schedule) OfRounds() bool { return s.days >= 0 }

// Due is a moment at which a schedule falls due.
type Due struct {
	At time.Time
	// Day is the day that its clock shows; Round the round's date from which it is counted,
	// nil where it isn't.
	Day   Date
	Round *Date
}

// Between returns when the schedule falls due after one moment and not after another, in
// order. Rounds are the dates from which it may be counted.
//
// Where clocks are put forward over the time of day it falls due in the moment they are;
// where they are put back over it, the first time that they show it.
func (s Schedule) Between(after, until time.Time, rounds []Date) []Due {
	var all []Due
	add := func(day Date, round *Date) {
		at := s.on(day)
		if at.After(after) && !at.After(until) {
			all = append(all, Due{At: at, Day: day, Round: round})
		}
	}
	switch {
	case s.once != nil:
		add(*s.once, nil)
	case s.days >= 0:
		for _, round := range rounds {
			add(round.plus(-s.days), &round)
		}
	default:
		// A day more on either side: the zone's day may not be the caller's.
		last := DateOf(until.In(s.zone)).plus(1)
		for day := DateOf(after.In(s.zone)).plus(-1); !last.Before(day); day = day.plus(1) {
			if slices.Contains(s.weekdays, day.midnight().Weekday()) {
				add(day, nil)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b Due) int { return a.At.Compare(b.At) })
	return all
}

// on returns the schedule's moment on a day.
func (s Schedule) on(day Date) time.Time {
	at := time.Date(day.Year, day.Month, day.Day, s.hour, s.minute, 0, 0, s.zone)
	since, till := at.ZoneBounds()
	switch shown := DateOf(at) == day && at.Hour() == s.hour && at.Minute() == s.minute; {
	case !shown && s.skippedTo(day, since):
		return since
	case !shown:
		return till
	case since.IsZero():
		return at
	}
	// What the clock would have been had it not been changed since.
	_, before := since.Add(-time.Nanosecond).Zone()
	_, now := at.Zone()
	if earlier := at.Add(time.Duration(now-before) * time.Second); earlier.Before(since) {
		return earlier
	}
	return at
}

// skippedTo reports whether the clock was put forward over the schedule's time of day at a
// moment.
func (s Schedule) skippedTo(day Date, change time.Time) bool {
	if change.IsZero() {
		return false
	}
	wall := func(t time.Time) time.Time { // as its clock shows, in UTC so that it can be compared
		_, offset := t.Zone()
		return t.UTC().Add(time.Duration(offset) * time.Second)
	}
	asked := time.Date(day.Year, day.Month, day.Day, s.hour, s.minute, 0, 0, time.UTC)
	return !asked.Before(wall(change.Add(-time.Nanosecond))) && asked.Before(wall(change))
}
