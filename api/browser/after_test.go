package browser_test

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"

	"parcours.example/api/contract"
	"parcours.example/internal/browsertest"
)

// rode are the riders of the example recordings, as a browser keeps them.
const rode = `{"riders": [
	{"name": "Bram", "mass_kg": 82, "power_w": 290},
	{"name": "Nour", "mass_kg": 61, "power_w": 230, "critical_power_w": 245, "w_prime_j": 15000}],
	"setups": [], "effort": {"kind": "own_power"}}`

// openAfter opens the course of the example recordings, with their riders.
func openAfter(t *testing.T, handler http.Handler) *tab {
	t.Helper()
	b := newTabOver(t, handler)
	b.Open("/docs")
	eval[bool](b, "localStorage.setItem('parcours.riders.1', "+browsertest.Quote(rode)+") ?? true")
	b.Open("/")
	b.Choose("#file", "orchard-loop.gpx", example(t, "orchard-loop.gpx"))
	b.WaitVisible("#after form")
	return b
}

// A recording is dropped and held against its prediction; with another and a file that
// isn't one, what can be told is told, and of the round too. Nothing of recordings stays.
func TestAfterTheRace(t *testing.T) {
	handler := &determining{Handler: service(t)}
	b := openAfter(t, handler)
	b.badRecordingAlone()
	b.Drop("label[for=recordings]", "nour.fit", example(t, "orchard-loop-nour.fit"))
	b.WaitText("#after legend", "nour.fit")
	if course := b.Text("#profile-title"); course != "Orchard loop" {
		t.Errorf("the course is %q now", course)
	}
	b.Set("#after-plans", "true")
	b.Click("#after-ask")
	b.WaitText("#after .told", "Predicted 8:55, ridden 9:34")
	b.WaitText("#after .told", "The best plan")
	b.WaitText("#after tbody tr", "Standing\t+20 s")
	b.WaitText("#after li", "At 4:04 of it: The rider stood once")
	b.WaitText("#after tbody tr", "Lap 2")
	b.WaitFor("#after figure svg")
	if b.Visible("#after .take-over") {
		t.Error("what isn't known well enough can be taken over")
	}

	b.Set("#after-plans", "false")
	b.Choose("#recordings", "bram.fit", example(t, "orchard-loop-bram.fit"))
	b.Choose("#recordings", "notes.txt", []byte("Nothing was ridden here.\n"))
	b.Choose("#recordings", "empty.fit", nil)
	b.WaitText("#after [role=status]", "Left out, being empty: empty.fit")
	handler.on.Store(true)
	b.Click("#after-ask")
	b.WaitText("#after h3", "The round")
	b.WaitText("#after tbody tr", "notes.txt\t–\t\t\t\t\tThe bytes are of no format that is read here")
	b.WaitText("#after summary", "Bram: drag area 0.34")
	b.Set("#after-ride", "Bram")
	b.WaitText("#after .told", "shelter (−13 s)")
	b.Wait("the picture of Bram", "document.querySelector('#after figure svg desc')?.textContent.includes('Bram')")
	b.CheckView("after", browsertest.NarrowLight, "#after form", "#after .answer")
	b.CheckView("after", browsertest.WideDark, "#after > :not(form):not(.answer)", "#after .answer svg")
	b.takeOver()
	kept := eval[string](b, "JSON.stringify({...localStorage, ...sessionStorage}) + location.href")
	if strings.Contains(kept, ".fit") || strings.Contains(kept, "recording") {
		t.Errorf("kept: %s", kept)
	}
}

// badRecordingAlone demands that a recording which is alone and can't be read says why.
func (b *tab) badRecordingAlone() {
	b.T.Helper()
	if b.Visible("#after-ask:enabled") {
		b.T.Error("nothing can be asked about")
	}
	b.Allow(http.StatusUnprocessableEntity)
	b.Choose("#recordings", "course.gpx", example(b.T, "orchard-loop.gpx"))
	b.Click("#after-ask")
	b.WaitText("#after .problem", "export the recording of the ride")
	b.Click("#after .remove")
	b.WaitGone("#after .remove")
}

// takeOver demands that what is told well enough goes to the riders above: the drag area to
// its rider, the rolling resistance to the set-up that all ride.
func (b *tab) takeOver() {
	b.T.Helper()
	b.Click("#after .take-over")
	b.WaitText("#after [role=status]", "counts in the next prediction")
	for selector, want := range map[string]string{
		"#rider-2-cda_m2": "0.287", "#rider-1-cda_m2": "", "#setup-1-crr": "0.0035", "#setup-1-name": "All-round road bicycle",
	} {
		if got := b.Value(selector); got != want {
			b.T.Errorf("%s is %q, not %q", selector, got, want)
		}
	}
}

// determining serves, once it is on, as a service whose first rider's rides had told drag and
// rolling resistance well: those of the examples don't.
type determining struct {
	http.Handler
	on atomic.Bool
}

func (d *determining) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if !d.on.Load() || r.URL.Path != "/v1/calibrations" || r.Header.Get("Accept") != "application/json" {
		d.Handler.ServeHTTP(w, r)
		return
	}
	r.Header.Del("Accept-Encoding")
	answer := httptest.NewRecorder()
	d.Handler.ServeHTTP(answer, r)
	var found contract.Calibration
	if err := json.Unmarshal(answer.Body.Bytes(), &found); err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	yes, no, cda, crr := true, false, 0.287, 0.0035
	learnt := &found.Learnt[0]
	learnt.DragDetermined, learnt.RollingDetermined, learnt.CrrAssumed = &yes, &yes, &no
	learnt.Next.Setup.CdaM2, learnt.Next.Setup.Crr = &cda, &crr
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(found)
}
