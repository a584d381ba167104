package when

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func moment(t testing.TB, text string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

func TestDue(t *testing.T) {
	rounds := []Date{{2026, time.December, 3}, {2026, time.December, 17}}
	for _, tc := range []struct {
		schedule, zone, after, until string
		want                         []string
	}{
		{"every Thursday at 18:00", "Europe/Brussels", "2026-11-26T00:00:00Z", "2026-12-10T18:00:00Z", []string{"2026-11-26T17:00:00Z", "2026-12-03T17:00:00Z", "2026-12-10T17:00:00Z"}},
		{"Every Mon, thu 07:30", "Europe/Brussels", "2026-11-26T00:00:00Z", "2026-12-01T00:00:00Z", []string{"2026-11-26T06:30:00Z", "2026-11-30T06:30:00Z"}},
		{"every day at 23:30", "Pacific/Auckland", "2026-11-26T10:30:00Z", "2026-11-27T10:30:00Z", []string{"2026-11-27T10:30:00Z"}},
		{"2 days before at 18:00", "Europe/Brussels", "2026-11-01T00:00:00Z", "2026-12-31T00:00:00Z", []string{"2026-12-01T17:00:00Z", "2026-12-15T17:00:00Z"}},
		{"on the day at 08:00", "UTC", "2026-12-04T00:00:00Z", "2026-12-31T00:00:00Z", []string{"2026-12-17T08:00:00Z"}},
		{"on 2026-12-03 at 18:00", "UTC", "2026-12-03T18:00:00Z", "2026-12-31T00:00:00Z", nil},
		{"on 2026-12-03 at 18:00", "UTC", "2026-12-03T17:59:59Z", "2026-12-03T18:00:00Z", []string{"2026-12-03T18:00:00Z"}},
		// Clocks forward at 01:00 UTC on 29 March 2026, back at 01:00 UTC on 25 October 2026.
		{"every day at 02:30", "Europe/Brussels", "2026-03-27T12:00:00Z", "2026-03-30T12:00:00Z", []string{"2026-03-28T01:30:00Z", "2026-03-29T01:00:00Z", "2026-03-30T00:30:00Z"}},
		{"every day at 02:00", "Europe/Brussels", "2026-03-28T12:00:00Z", "2026-03-29T12:00:00Z", []string{"2026-03-29T01:00:00Z"}},
		{"every day at 03:00", "Europe/Brussels", "2026-03-28T12:00:00Z", "2026-03-29T12:00:00Z", []string{"2026-03-29T01:00:00Z"}},
		{"every day at 02:30", "Europe/Brussels", "2026-10-24T12:00:00Z", "2026-10-26T12:00:00Z", []string{"2026-10-25T00:30:00Z", "2026-10-26T01:30:00Z"}},
		{"every day at 03:00", "Europe/Brussels", "2026-10-24T12:00:00Z", "2026-10-25T12:00:00Z", []string{"2026-10-25T02:00:00Z"}},
		// West of Greenwich, and a change of half an hour.
		{"every day at 02:30", "America/New_York", "2026-03-07T12:00:00Z", "2026-03-08T12:00:00Z", []string{"2026-03-08T07:00:00Z"}},
		{"every day at 01:30", "America/New_York", "2026-10-31T12:00:00Z", "2026-11-01T12:00:00Z", []string{"2026-11-01T05:30:00Z"}},
		{"every day at 02:15", "Australia/Lord_Howe", "2026-10-03T06:00:00Z", "2026-10-04T06:00:00Z", []string{"2026-10-03T15:30:00Z"}},
		// A day that Samoa left out.
		{"every day at 12:00", "Pacific/Apia", "2011-12-29T12:00:00Z", "2011-12-31T12:00:00Z", []string{"2011-12-29T22:00:00Z", "2011-12-30T10:00:00Z", "2011-12-30T22:00:00Z"}},
	} {
		s, err := Parse(tc.schedule, zone(t, tc.zone))
		if err != nil {
			t.Error(err)
			continue
		}
		var got []string
		for _, due := range s.Between(moment(t, tc.after), moment(t, tc.until), rounds) {
			got = append(got, due.At.UTC().Format(time.RFC3339))
		}
		if len(got) != len(tc.want) {
			t.Errorf("%s in %s: %v, want %v", tc.schedule, tc.zone, got, tc.want)
			continue
		}
		for i := range got {
			if got[i] != tc.want[i] {
				t.Errorf("%s in %s: %v, want %v", tc.schedule, tc.zone, got, tc.want)
			}
		}
	}
}

func TestNoSchedules(t *testing.T) {
	for _, text := range []string{
		"", "Thursday", "every", "every 18:00", "every Thursday", "every Thursday at 25:00", "every Thursday at 6pm", "every Wednsday at 18:00",
		"0 days before at 18:00", "61 days before at 18:00", "on 2026-02-30 at 18:00", "on day at 18:00", "every and at 18:00", "at 18:00", "-1 days before at 18:00",
	} {
		if s, err := Parse(text, time.UTC); err == nil {
			t.Errorf("%q is %+v", text, s)
		}
	}
}

// Every day has one moment in every zone, in order, and the clock shows it unless it was put
// forward over it.
func TestEveryDayOnce(t *testing.T) {
	names := []string{"Europe/Brussels", "America/New_York", "Pacific/Auckland", "Australia/Lord_Howe", "Asia/Kathmandu", "America/Sao_Paulo", "Africa/Casablanca", "UTC"}
	rapid.Check(t, func(t *rapid.T) {
		z, err := time.LoadLocation(rapid.SampledFrom(names).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		s := Schedule{days: -1, hour: rapid.IntRange(0, 23).Draw(t, "hour"), minute: rapid.IntRange(0, 59).Draw(t, "minute"), zone: z}
		s.readWeekdays([]string{"day"})
		from := time.Unix(rapid.Int64Range(1.2e9, 2.0e9).Draw(t, "from"), 0)
		until := from.AddDate(0, 0, 40)
		var last time.Time
		var day Date
		for _, due := range s.Between(from, until, nil) {
			if !last.IsZero() && (due.Day != day.plus(1) || due.At.Sub(last) < 20*time.Hour || due.At.Sub(last) > 28*time.Hour) {
				t.Fatalf("%v (%v) follows %v (%v)", due.At, due.Day, last, day)
			}
			since, _ := due.At.ZoneBounds()
			if (due.At.Hour() != s.hour || due.At.Minute() != s.minute) && !due.At.Equal(since) {
				t.Fatalf("%v for %d:%02d", due.At, s.hour, s.minute)
			}
			last, day = due.At, due.Day
		}
		if last.IsZero() {
			t.Fatal("nothing in 40 days")
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"every Thursday at 18:00", "every mon, tue and fri 07:30", "2 days before at 18:00", "on the day 08:00", "on 2026-12-03 at 18:00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := Parse(text, time.UTC)
		if err != nil {
			return
		}
		if s.once == nil && s.days < 0 && len(s.weekdays) == 0 {
			t.Fatalf("%q never falls due", text)
		}
	})
}
