package main

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/wording"
	"parcours.example/api/contract"
)

// Numbers are written as the service writes them.
func TestNumbersAreTheServices(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-1e6, 1e6).Draw(t, "v")
		decimals := rapid.IntRange(0, 3).Draw(t, "decimals")
		u, w := units{rapid.Bool().Draw(t, "imperial")}, wording.Units{}
		w.Imperial = u.imperial
		size := max(v, -v)
		for name, pair := range map[string][2]string{
			"rounded":  {rounded(v, decimals), wording.Rounded(v, decimals)},
			"number":   {number(v, decimals), wording.Number(v, decimals)},
			"clock":    {clock(size), wording.Clock(size)},
			"gap":      {strings.TrimLeft(gap(v), "+−"), sized(v)},
			"chance":   {chance(size / 1e6), strings.NewReplacer("under ", "<", "over ", ">", " %", "").Replace(wording.Chance(size / 1e6))},
			"length":   {u.length(size), w.Bare(size)},
			"position": {u.position(size), w.Covered(size)},
			"height":   {strings.Replace(u.height(v), "−", "-", 1), w.Level(v)},
			"pace":     {u.pace(size), w.Pace(size)},
			"long":     {u.long(), w.Long()},
			"short":    {u.short(), w.Short()},
			"speed":    {u.speed(), w.SpeedUnit()},
			"kJ":       {strings.Replace(kilojoules(v), "−", "-", 1) + " kJ", wording.Kilojoules(v)},
		} {
			if pair[0] != pair[1] {
				t.Errorf("%s of %v: %s, the service writes %s", name, v, pair[0], pair[1])
			}
		}
	})
}

// sized is how the service writes a difference of times, but for none.
func sized(s float64) string {
	if text := wording.Seconds(s); text != "0.0 s" {
		return text
	}
	return "0"
}

// Whatever stands in a table, its columns stand below each other and within the screen.
func TestTablesStayInLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.StringOf(rapid.RuneFrom([]rune("aé漢字🚴ｱ٣\u0301\x1b\u202e\n ")))
		rows := rapid.SliceOfN(rapid.SliceOfN(cell, 4, 4), 1, 8).Draw(t, "rows")
		width := rapid.SampledFrom([]int{0, 80, 100}).Draw(t, "width")
		nth := func(i int) func([]string) string { return func(r []string) string { return r[i] } }
		var out strings.Builder
		table[[]string]{rows: rows, columns: []column[[]string]{
			{head: "name", left: true, text: nth(0)},
			{head: "名", left: true, text: nth(1)},
			{head: "n", text: func([]string) string { return "|" }},
			{head: "spare", spare: 1, left: true, text: nth(2)},
			{head: "last", left: true, wraps: true, text: nth(3)},
		}}.people(&out, screen{width: width})
		at := -1
		for _, line := range strings.Split(out.String(), "\n") {
			if width > 0 && wide(line) > width {
				t.Errorf("%d columns: %q", wide(line), line)
			}
			before, _, marked := strings.Cut(line, "|")
			if !marked {
				continue
			}
			if at >= 0 && wide(before) != at {
				t.Errorf("a column at %d and %d in\n%s", at, wide(before), out.String())
			}
			at = wide(before)
			if strings.ContainsAny(line, "\x1b\u202e") {
				t.Errorf("%q commands the terminal", line)
			}
		}
		if at < 0 {
			t.Errorf("no row in\n%s", out.String())
		}
	})
}

// A fault is told by what of the command line holds its place.
func TestPlaces(t *testing.T) {
	p := places{"/riders/0": "--rider 1", "/conditions/wind_mps": "--wind-mps"}
	pointer := func(s string) contract.Fault { return contract.Fault{Pointer: &s} }
	laps := "lap_line"
	for want, fault := range map[string]contract.Fault{
		"--rider 1":         pointer("#/riders/0"),
		"--rider 1 mass_kg": pointer("#/riders/0/mass_kg"),
		"riders/10/mass_kg": pointer("#/riders/10/mass_kg"),
		"--wind-mps":        pointer("#/conditions/wind_mps"),
		"":                  pointer("#"),
		"--lap-line":        {Parameter: &laps},
	} {
		if got := p.of(fault); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestClocksAndEfforts(t *testing.T) {
	for text, want := range map[string]float64{"330": 330, "5:30": 330, "1:45:00": 6300, "0:20.5": 20.5} {
		if got, err := parseClock(text); err != nil || got != want {
			t.Errorf("%s: %v, %v", text, got, err)
		}
	}
	for _, text := range []string{"", ":", "5:60", "1:2:3:4", "-5", "5:-1", "x", "1.5:00", "NaN", "Inf"} {
		if got, err := parseClock(text); err == nil {
			t.Errorf("%q is taken for %v s", text, got)
		}
	}
	for _, text := range []string{"5:00=330", "5:00 = 330 W", "300s=330W"} {
		if got, err := parseEffort(text); err != nil || got.DurationS != 300 || got.PowerW != 330 {
			t.Errorf("%s: %+v, %v", text, got, err)
		}
	}
}

// FuzzWritten reads any text as what people write on the command line and in tables.
func FuzzWritten(f *testing.F) {
	for _, text := range []string{"5:00=330", "name=light,mass=6.8", "climb=climb-2,pass=3", "finish", "end_m,power_w\n10,200\n", "drag=0.8,duration=20,available_from=a+b", `name={"a":1}`, "mass=1e999"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if e, err := parseEffort(text); err == nil && !(e.DurationS >= 0) {
			t.Errorf("an effort of %v s", e.DurationS)
		}
		var setup contract.Setup
		var ambition contract.Ambition
		var aid contract.Aid
		for _, err := range []error{readShort(setupForm, text, &setup), readShort(ambitionForm, text, &ambition), readShort(aidForm, text, &aid)} {
			if err != nil && (err.Error() == "" || errors.Unwrap(err) != nil) {
				t.Errorf("%v", err)
			}
		}
		if lines, err := readNumbers(strings.NewReader(text), "end_m", "power_w"); err == nil {
			for _, line := range lines {
				_ = fmt.Sprint(line[0], line[1])
			}
		}
		if s := plain(text); strings.ContainsAny(s, "\x1b\n\r\u202e\u0085") {
			t.Errorf("%q", s)
		}
	})
}
