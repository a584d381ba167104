package api_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"

	"parcours.example/api/contract"
	"parcours.example/service/engine"
)

const lapRace = "testdata/examples/orchard-loop.gpx"

// askedBrief sends a route file and wants a media type.
func askedBrief(t *testing.T, h *harness, query, accept string) *httptest.ResponseRecorder {
	t.Helper()
	r := request(http.MethodPost, "/v1/briefs?"+query, "application/gpx+xml", readFile(t, lapRace))
	r.Header.Set("Accept", accept)
	return h.send(t, r)
}

// briefOf reads a brief in JSON.
func briefOf(t *testing.T, w *httptest.ResponseRecorder) contract.Brief {
	t.Helper()
	var b contract.Brief
	if err := json.Unmarshal(w.Body.Bytes(), &b); err != nil || w.Code != http.StatusOK {
		t.Fatalf("status %d, %v: %.500s", w.Code, err, w.Body)
	}
	return b
}

// TestItineraryInQueryAndBody demands the same itinerary by either way of asking.
func TestItineraryInQueryAndBody(t *testing.T) {
	h := newHarness(t, engine.Config{})
	id := analyse(t, h, readFile(t, lapRace))
	for query, body := range map[string]string{
		"itinerary=true":                                  `{}`,
		"speed_mps=9&speed_mps=8":                         `{"speeds_mps": [9, 8]}`,
		"start_clock=23:59:30&neutral_m=400&neutral_s=90": `{"start_clock": "23:59:30", "neutral_m": 400, "neutral_s": 90}`,
	} {
		byQuery := briefOf(t, askedBrief(t, h, query, "application/json"))
		w := h.send(t, request(http.MethodPost, "/v1/briefs", "application/json", []byte(`{"course": {"course_id": "`+id+`"}, "itinerary": `+body+`}`)))
		if byBody := briefOf(t, w); fmt.Sprint(asJSON(t, byQuery.Itinerary)) != fmt.Sprint(asJSON(t, byBody.Itinerary)) || byQuery.Text != byBody.Text {
			t.Errorf("%s and %s differ", query, body)
		}
	}
	if plain := briefOf(t, askedBrief(t, h, "", "application/json")); plain.Itinerary != nil || strings.Contains(plain.Text, "Itinerary") {
		t.Error("an itinerary that nobody asked for")
	}
}

func asJSON(t *testing.T, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// TestItineraryNumbers holds the answer's numbers against each other and against its text.
func TestItineraryNumbers(t *testing.T) {
	h := newHarness(t, engine.Config{})
	b := briefOf(t, askedBrief(t, h, "start_clock=13:00&speed_mps=10&rider=mass=72,power=250,name=Ada", "application/json"))
	course := b.Itinerary
	if *course.StartClock != "13:00:00" || len(course.Columns) != 2 || *course.Columns[1].Rider != "Ada" {
		t.Errorf("%s", asJSON(t, course.Columns))
	}
	for i, r := range course.Rows {
		if math.Abs(r.AtM+r.ToFinishM-course.LengthM) > 0.002 || len(r.ClocksS) != 2 || len(r.ClockTexts) != 2 || len(r.Things) == 0 {
			t.Errorf("row %d: %s", i, asJSON(t, r))
		}
		if math.Abs(r.ClocksS[0]-r.AtM/10) > 0.001 {
			t.Errorf("row %d: %v s at 10 m/s and %v m", i, r.ClocksS[0], r.AtM)
		}
		line := fmt.Sprintf(`(?m)^ *%s +%s .*%s +%s `, regexp.QuoteMeta(r.CoveredText), regexp.QuoteMeta(r.ToGoText), r.ClockTexts[0], r.ClockTexts[1])
		if !regexp.MustCompile(line).MatchString(b.Text) {
			t.Errorf("row %d isn't told: %s", i, line)
		}
	}
	if last := course.Rows[len(course.Rows)-1]; last.Things[0].Kind != contract.ItineraryKindFinish {
		t.Errorf("the last row: %s", asJSON(t, last))
	}
}

// TestItineraryAlone reads the table back, with a name for its file and a tag of its own.
func TestItineraryAlone(t *testing.T) {
	h := newHarness(t, engine.Config{})
	tags := map[string]bool{}
	for query, first := range map[string]string{
		"":               "covered_km,to_go_km,elevation_m,lap,pass,what,place,elapsed_h_mm_ss: ",
		"units=imperial": "covered_miles,to_go_miles,elevation_ft,lap,pass,what,place,elapsed_h_mm_ss: ",
		"start_clock=23:59&rider=mass=72,power=250,name=%3D1%2B1": "covered_km,to_go_km,elevation_m,lap,pass,what,place,time_of_day_h_mm_ss: 1+1",
	} {
		w := askedBrief(t, h, query, "text/csv")
		if w.Code != http.StatusOK || !strings.HasPrefix(w.Body.String(), first) {
			t.Fatalf("%s: status %d: %.300s", query, w.Code, w.Body)
		}
		if name := w.Header().Get("Content-Disposition"); !regexp.MustCompile(`^attachment; filename="itinerary-[0-9a-f]{8}\.csv"$`).MatchString(name) {
			t.Errorf("%s: Content-Disposition %q", query, name)
		}
		if got := w.Header().Get("Content-Type"); got != "text/csv; charset=utf-8; header=present" {
			t.Errorf("%s: Content-Type %q", query, got)
		}
		records, err := csv.NewReader(bytes.NewReader(w.Body.Bytes())).ReadAll()
		b := briefOf(t, askedBrief(t, h, strings.TrimPrefix(query+"&itinerary=true", "&"), "application/json"))
		if err != nil || len(records) != len(b.Itinerary.Rows)+1 {
			t.Fatalf("%s: %d records, %v, for %d rows", query, len(records), err, len(b.Itinerary.Rows))
		}
		for i, r := range b.Itinerary.Rows {
			if records[i+1][0] != r.CoveredText || records[i+1][1] != r.ToGoText {
				t.Errorf("%s: row %d reads %q, the answer says %s", query, i, records[i+1], asJSON(t, r))
			}
		}
		tags[w.Header().Get("ETag")] = true
	}
	if len(tags) != 3 {
		t.Errorf("tags %v", tags)
	}
}

// TestItineraryRefused demands the place of what can't be.
func TestItineraryRefused(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for _, c := range []struct{ query, accept, problem, parameter string }{
		{"max_chars=500", "text/csv", "invalid-request", "max_chars"},
		{"itinerary=false", "text/plain", "invalid-request", "itinerary"},
		{"start_clock=24:00", "text/plain", "invalid-request", "start_clock"},
		{"speed_mps=9&speed_mps=0.9", "text/plain", "invalid-request", "speed_mps"},
		{"neutral_m=90000&neutral_s=9000", "text/plain", "not-computable", "neutral_m"},
		{"neutral_m=100", "text/plain", "not-computable", "neutral_s"},
	} {
		w := askedBrief(t, h, c.query, c.accept)
		checkProblem(t, w, c.problem)
		if fs := faultsOf(t, w.Body.Bytes()); len(fs) == 0 || fs[0].Parameter != c.parameter {
			t.Errorf("%s: %v, want the parameter %q", c.query, fs, c.parameter)
		}
	}
	const course = `{"course": {"profile": {"distance_m": [0, 1000]}}, `
	for _, c := range []struct{ query, body, accept, problem, at string }{
		{"", `"max_chars": 500}`, "text/csv", "invalid-request", "#/max_chars"},
		{"?max_chars=500", `"units": "metric"}`, "text/csv", "invalid-request", "max_chars"},
		{"?start_clock=13:00", `"itinerary": {}}`, "text/plain", "invalid-request", "start_clock"},
		{"", `"itinerary": {"speeds_mps": []}}`, "text/plain", "invalid-request", "#/itinerary/speeds_mps"},
		{"", `"itinerary": {"speeds_mps": [8, 9, 10, 11]}}`, "text/plain", "too-many", "#/itinerary/speeds_mps"},
		{"", `"itinerary": {"neutral_m": 999.5, "neutral_s": 100}}`, "text/plain", "not-computable", "#/itinerary/neutral_m"},
		{"", `"itinerary": {"start": "13:00"}}`, "text/plain", "invalid-request", "#/itinerary/start"},
	} {
		r := request(http.MethodPost, "/v1/briefs"+c.query, "application/json", []byte(course+c.body))
		r.Header.Set("Accept", c.accept)
		w := h.send(t, r)
		checkProblem(t, w, c.problem)
		if fs := faultsOf(t, w.Body.Bytes()); !slices.ContainsFunc(fs, func(f fault) bool { return f.Pointer == c.at || f.Parameter == c.at }) {
			t.Errorf("%s %s: %v, want it at %s", c.query, c.body, fs, c.at)
		}
	}
}
