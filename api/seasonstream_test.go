package api_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"parcours.example/api/contract"
	"parcours.example/internal/redistest"
	"parcours.example/service/engine"
)

// hillOf is the nth of many small courses, each another.
func hillOf(n int) namedFile {
	return namedFile{fmt.Sprintf("hill-%d.csv", n), fmt.Sprintf("distance_m,elevation_m\n0,0\n%d,0\n6000,%d\n", 1000+n, 60+n%100)}
}

const twoRiders = `{"riders": [{"name": "Nour", "mass_kg": 61, "power_w": 245}, {"name": "Bram", "mass_kg": 82, "power_w": 310}], "effort": {"kind": "own_power"}}`

// A season that is sent again is answered with what was computed, here and by another replica:
// the same bytes, and nothing made.
func TestSeasonsAreResumed(t *testing.T) {
	server := redistest.Start(t)
	one, other := replica(t, server.URL()), replica(t, server.URL())
	contentType, body := formOf(t, twoRiders, hillOf(1), namedFile{"words", "just words"}, hillOf(2), hillOf(3))
	ask := func(h *harness) []byte {
		return withoutProgress(h.send(t, request(http.MethodPost, seasonsPath, contentType, body)).Body.Bytes())
	}
	first := ask(one)
	if made := answersFrom(one, "made"); made != 3 {
		t.Errorf("%d made", made)
	}
	if again := ask(one); !bytes.Equal(again, first) || answersFrom(one, "made") != 3 {
		t.Errorf("again: %d made, %.300s", answersFrom(one, "made"), again)
	}
	db := server.Client()
	if !within(5*time.Second, func() bool { return len(db.Keys(t.Context(), "parcours:answer:*").Val()) == 3 }) {
		t.Error("not shared")
	}
	if elsewhere := ask(other); !bytes.Equal(elsewhere, first) || answersFrom(other, "redis")+answersFrom(other, "made") != 3 || answersFrom(other, "redis") == 0 {
		t.Errorf("elsewhere: %d made, %.300s", answersFrom(other, "made"), elsewhere)
	}
}

// Accept decides the form; both say the same.
func TestSeasonFormsSayTheSame(t *testing.T) {
	h := newHarness(t, engine.Config{})
	contentType, body := formOf(t, twoRiders, hillOf(1), namedFile{"words", "just words"}, hillOf(2))
	lines := seasonLines(t, h.send(t, request(http.MethodPost, seasonsPath, contentType, body)))
	items, last := itemsOf(lines)
	r := request(http.MethodPost, seasonsPath, contentType, body)
	r.Header.Set("Accept", "application/json")
	var whole contract.Season
	if err := json.Unmarshal(h.send(t, r).Body.Bytes(), &whole); err != nil {
		t.Fatal(err)
	}
	want := contract.Season{Items: items, Answered: 2, Failed: 1, Comparison: last.End.Comparison}
	if a, b := mustJSON(t, whole), mustJSON(t, want); a != b {
		t.Errorf("%s\nas lines %s", a, b)
	}
	for j, round := range last.End.Comparison.Rounds { // rounds with a problem are left out
		if round.Index != 2*j || *round.RoundID != *items[round.Index].RoundID {
			t.Errorf("round %d is item %d", j, round.Index)
		}
	}
}

// The light rider is suited by the hill and the heavy one by the flat, with equal power over body
// mass, by the engine's own rides, and each time is that of the call for predictions.
func TestSeasonOfTheEngine(t *testing.T) {
	h := newHarness(t, engine.Config{})
	const courses = `{"round_id": "flat", "course": {"profile": {"distance_m": [0, 12000], "elevation_m": [0, 0]}}},
		{"round_id": "hill", "course": {"profile": {"distance_m": [0, 12000], "elevation_m": [0, 840]}}}`
	const asked = `"riders": [{"name": "Light", "mass_kg": 58}, {"name": "Heavy", "mass_kg": 84}], "effort": {"kind": "power_per_mass", "w_per_kg": 4}`
	w := h.send(t, request(http.MethodPost, seasonsPath, "application/json", []byte(`{"rounds": [`+courses+`], `+asked+`}`)))
	items, last := itemsOf(seasonLines(t, w))
	light, heavy := last.End.Comparison.Riders[0], last.End.Comparison.Riders[1]
	if len(light.BestSuited) != 1 || light.BestSuited[0].Index != 1 || len(heavy.BestSuited) != 1 || heavy.BestSuited[0].Index != 0 {
		t.Fatalf("%+v\n%+v", light, heavy)
	}
	for _, r := range last.End.Comparison.Riders {
		for _, s := range append(r.BestSuited, r.LeastSuited...) {
			if sum := s.Parts.PowerToMassPct + s.Parts.PowerToDragAreaPct + s.Parts.RestPct; sum-s.SuitabilityPct > 1e-9 || s.SuitabilityPct-sum > 1e-9 {
				t.Errorf("%v, parts add up to %v", s.SuitabilityPct, sum)
			}
			if rest := s.Parts.RestPct; rest*rest > 0.01*s.SuitabilityPct*s.SuitabilityPct {
				t.Errorf("a rest of %v in %v", rest, s.SuitabilityPct)
			}
			t.Log(s.Why)
		}
	}
	var alone contract.Predictions
	predicted := h.send(t, request(http.MethodPost, "/v1/predictions", "application/json", []byte(`{"course": {"profile": {"distance_m": [0, 12000], "elevation_m": [0, 840]}}, `+asked+`}`)))
	if err := json.Unmarshal(predicted.Body.Bytes(), &alone); err != nil {
		t.Fatal(err)
	}
	for i, p := range items[1].Result.Predictions {
		want := alone.Predictions[i]
		if *p.TimeS != *want.TimeS || *p.TimeLowS != *want.TimeLowS || *p.TimeHighS != *want.TimeHighS || *p.MassKg != *want.MassKg {
			t.Errorf("%+v, alone %+v", p, want)
		}
	}
}

// served is a season over a real connection: what is sent, and the lines of the reply.
type served struct {
	sends  *io.PipeWriter
	lines  *bufio.Scanner
	reply  *http.Response
	leave  context.CancelFunc
	closed func()
}

// serveSeason begins to send a season of files to a real server. The reply is there once the first
// round is answered.
func serveSeason(t *testing.T, h *harness, first []byte) *served {
	t.Helper()
	server := httptest.NewServer(h.handler)
	reads, sends := io.Pipe()
	ctx, leave := context.WithCancel(t.Context())
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, server.URL+seasonsPath, reads)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "multipart/form-data; boundary=rounds")
	go func() { _, _ = sends.Write(first) }()
	reply, err := server.Client().Do(r) //nolint:bodyclose // closed does
	if err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(reply.Body)
	lines.Buffer(nil, 1<<20)
	return &served{sends, lines, reply, leave, func() {
		leave()
		_ = sends.Close()
		_ = reply.Body.Close()
		server.CloseClientConnections()
		server.Close()
		server.Client().CloseIdleConnections()
	}}
}

// next returns the next line but progress.
func (s *served) next(t *testing.T) (line contract.SeasonLine) {
	t.Helper()
	for s.lines.Scan() {
		line = contract.SeasonLine{}
		if err := json.Unmarshal(s.lines.Bytes(), &line); err != nil {
			t.Fatal(err)
		}
		if line.Progress == nil {
			return line
		}
	}
	t.Fatalf("no more lines: %v", s.lines.Err())
	return line
}

// partOf is a form's part with a file, and where the next one begins.
func partOf(f namedFile) []byte {
	return fmt.Appendf(nil, "Content-Disposition: form-data; name=file; filename=%s\r\n\r\n%s\r\n--rounds\r\n", f.name, f.content)
}

// Each file is answered before the next is sent, on one connection.
func TestSeasonIsAnsweredAsItComes(t *testing.T) {
	leavesNothing(t)
	h := newHarness(t, engine.Config{})
	s := serveSeason(t, h, append([]byte("--rounds\r\n"), partOf(hillOf(0))...))
	defer s.closed()
	for i := range 5 {
		if line := s.next(t); line.Item == nil || line.Item.Index != i || line.Item.Result == nil {
			t.Fatalf("%+v", line)
		}
		rest := partOf(hillOf(i + 1))
		if i == 4 {
			rest = []byte(strings.TrimSuffix(string(rest), "\r\n") + "--\r\n")
		}
		if _, err := s.sends.Write(rest); err != nil {
			t.Fatal(err)
		}
	}
	_ = s.sends.Close()
	s.next(t)
	if line := s.next(t); line.End == nil || line.End.Answered != 6 {
		t.Errorf("%+v", line)
	}
}

// Whoever leaves in the midst of a season ends the work on it.
func TestLeavingASeason(t *testing.T) {
	leavesNothing(t)
	h := newHarness(t, engine.Config{Workers: 2})
	s := serveSeason(t, h, append([]byte("--rounds\r\n"), partOf(hillOf(0))...))
	defer s.closed()
	s.next(t)
	for n := range 3 {
		if _, err := s.sends.Write(partOf(hillOf(n))); err != nil {
			t.Fatal(err)
		}
	}
	s.leave()
	until(t, h, "\nparcours_inflight{lane=\"heavy\"} 0\n", "\nparcours_waiting{lane=\"heavy\"} 0\n", "\nparcours_held_bytes 0\n", "\nparcours_http_inflight 1\n")
}

// A service that is stopping says so, and nothing as if it were the end.
func TestSeasonsEndWithTheService(t *testing.T) {
	h := newHarness(t, engine.Config{})
	s := serveSeason(t, h, append([]byte("--rounds\r\n"), partOf(hillOf(0))...))
	defer s.closed()
	s.next(t)
	h.stopping.Store(true)
	if _, err := s.sends.Write(partOf(hillOf(1))); err != nil {
		t.Fatal(err)
	}
	if line := s.next(t); problemName(line.Problem) != "busy" {
		t.Errorf("%+v", line)
	}
}
