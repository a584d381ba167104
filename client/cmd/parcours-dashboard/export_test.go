package main

import (
	"bytes"
	"encoding/csv"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// league is what a board shows of two rounds and two riders with names that do harm.
func league() shown {
	at := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	laps := 3
	return shown{
		Riders: []shownRider{{Rider: "=1+1"}, {Rider: "Bram, \"the\" Wall"}},
		Rounds: []shownRound{
			{RoundID: "a.gpx", Name: "-2+3", AnsweredAt: &at, DistanceM: ref(9000.5), LapsCount: &laps, Times: []shownTime{
				{Rider: "=1+1", Setup: "@road", Counts: true, Place: 1, TimeS: ref(1000), SuitabilityPct: ref(-0.5)},
				{Rider: "Bram, \"the\" Wall", Setup: "@road", TimeS: ref(900), WhyNot: unable},
			}},
			{RoundID: "b.gpx", Name: "b.gpx", AnsweredAt: &at, Problem: &shownProblem{Title: "The file can't be read", Detail: "line 1: no XML"}},
		},
	}
}

func TestTablesAreRFC4180AndHarmless(t *testing.T) {
	want := "round_id,name,distance_m,ascent_m,ascent_m_per_km,h2_index,share_before_last_climb,rolling_m_per_km,climbs_count,laps_count,shape,decisive,answered_at,problem," +
		"'=1+1 time_s,\"Bram, \"\"the\"\" Wall time_s\"\r\n" +
		"a.gpx,'-2+3,9000.5,,,,,,,3,,,2026-03-01T12:00:00Z,,1000,\r\n" +
		"b.gpx,b.gpx,,,,,,,,,,,2026-03-01T12:00:00Z,line 1: no XML,,\r\n"
	if got := string(league().roundsCSV()); got != want {
		t.Errorf("rounds:\n%s", got)
	}
	want = "round_id,name,rider,setup,counts,place,time_s,time_low_s,time_high_s,mean_speed_mps,suitability_pct,why_not\r\n" +
		"a.gpx,'-2+3,'=1+1,'@road,true,1,1000,,,,-0.5,\r\n" +
		"a.gpx,'-2+3,\"Bram, \"\"the\"\" Wall\",'@road,false,,900,,,,,W′ runs out: the effort can't be held\r\n"
	if got := string(league().timesCSV()); got != want {
		t.Errorf("times:\n%s", got)
	}
}

// Whatever a cell holds, a reader of CSV gets it back, and a spreadsheet no formula.
func TestCellsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cells := rapid.SliceOfN(rapid.StringMatching(`[=+\-@\t",;\n a1é.]{0,6}`), 2, 4).Draw(t, "cells")
		got, err := csv.NewReader(bytes.NewReader(table([][]string{slices.Clone(cells)}))).Read()
		if err != nil {
			t.Fatal(err)
		}
		for i, cell := range got {
			if plain := strings.TrimPrefix(cell, "'"); plain != cells[i] {
				t.Errorf("%q came back as %q", cells[i], cell)
			}
			if cell != "" && strings.ContainsRune("=@\t\r", rune(cell[0])) {
				t.Errorf("%q is a formula", cell)
			}
		}
	})
}

func TestSelection(t *testing.T) {
	some, err := league().selected(url.Values{"round": {"b.gpx", "a.gpx", "b.gpx"}, "rider": {"=1+1"}})
	if err != nil || len(some.Rounds) != 2 || some.Rounds[0].RoundID != "b.gpx" || len(some.Rounds[1].Times) != 1 || len(some.Riders) != 1 {
		t.Errorf("%+v, %v", some, err)
	}
	for thing, q := range map[string]url.Values{"round": {"round": {"a.gpx", "none"}}, "rider": {"rider": {"none"}}} {
		if _, err := league().selected(q); thing == "round" && err == nil || thing == "rider" && err == nil {
			t.Errorf("no error of a %s that isn't there", thing)
		}
	}
}
