package api

import (
	"maps"
	"testing"
	"time"
)

func TestPreferences(t *testing.T) {
	for _, tc := range []struct {
		fields []string
		want   map[string]string
	}{
		{nil, map[string]string{}},
		{[]string{""}, map[string]string{}},
		{[]string{"respond-async"}, map[string]string{"respond-async": ""}},
		{[]string{"Respond-Async, WAIT=10"}, map[string]string{"respond-async": "", "wait": "10"}},
		{[]string{"respond-async", "wait=10"}, map[string]string{"respond-async": "", "wait": "10"}},
		{[]string{" wait = 10 ; x = y ;; z ,\trespond-async"}, map[string]string{"wait": "10", "respond-async": ""}},
		{[]string{"wait=1, wait=2"}, map[string]string{"wait": "1"}},
		{[]string{`a="x, respond-async", wait="5"`}, map[string]string{"a": "x, respond-async", "wait": "5"}},
		{[]string{`a="\"\\", b=""`}, map[string]string{"a": `"\`, "b": ""}},
		{[]string{"=x, (respond-async), wait=3"}, map[string]string{"wait": "3"}},
		{[]string{`a="never closed, respond-async`, "wait=3"}, map[string]string{"wait": "3"}},
		{[]string{"respond-async x, wait=3"}, map[string]string{"wait": "3"}},
		{[]string{",,, ,respond-async,"}, map[string]string{"respond-async": ""}},
	} {
		if got := preferences(tc.fields); !maps.Equal(got, tc.want) {
			t.Errorf("%q: %v, want %v", tc.fields, got, tc.want)
		}
	}
}

func TestWaits(t *testing.T) {
	for text, want := range map[string]time.Duration{"": 0, "0": 0, "5": 5 * time.Second, "20": 20 * time.Second, "21": mostWaitForJob, "4294967296": 0, "-1": 0, "1.5": 0, "soon": 0} {
		if got := waitOf(map[string]string{"wait": text}); got != want {
			t.Errorf("wait=%q: %v, want %v", text, got, want)
		}
	}
}

// FuzzPreferences demands that any field is read in bounds, and that what is before a comma
// outside quotes doesn't change what comes after.
func FuzzPreferences(f *testing.F) {
	for _, field := range []string{"respond-async", `wait=10; a="b,c", x`, `a="\"`, ";;=,", "wait = \"5\""} {
		f.Add(field)
	}
	f.Fuzz(func(t *testing.T, field string) {
		found := preferences([]string{field})
		if len(found) > mostPreferences {
			t.Errorf("%d preferences", len(found))
		}
		for name := range found {
			if name == "" {
				t.Error("a preference without a name")
			}
		}
		if _, known := found["respond-async"]; known && len(found) < mostPreferences {
			if _, known := preferences([]string{"y=z," + field})["respond-async"]; !known {
				t.Errorf("%q doesn't say so behind another", field)
			}
		}
		if w := waitOf(found); w < 0 || w > mostWaitForJob {
			t.Errorf("a wait of %v", w)
		}
	})
}
