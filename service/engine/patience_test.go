package engine

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"
)

// patiently takes a heavy worker for patient work.
func patiently(t *testing.T, a *admission) (working context.Context, leave func()) {
	t.Helper()
	working, leave, err := a.enter(Patiently(t.Context()), 0)
	if err != nil {
		t.Fatal(err)
	}
	return working, leave
}

// However much patient work there is, nobody else waits for it, nor is refused.
func TestNobodyWaitsForPatientWork(t *testing.T) {
	a := newAdmission(3, time.Minute, newMeter())
	var leaves []func()
	for range 2 {
		_, leave := patiently(t, a)
		leaves = append(leaves, leave)
	}
	for _, steps := range []float64{0, 0, 0, 2 * lightSteps, 2 * lightSteps} { // all that there is
		_, leave, err := a.enter(t.Context(), steps)
		if err != nil {
			t.Fatal(err)
		}
		leaves = append(leaves, leave)
	}
	if n := a.heavy.foreseen(); n > time.Second {
		t.Errorf("a newcomer is told to wait %v", n)
	}
	for _, leave := range leaves {
		leave()
	}
}

// Patient work waits while all workers are taken, is never refused, and begins once nobody else
// waits.
func TestPatientWorkComesLast(t *testing.T) { synctest.Test(t, patientWorkComesLast) }

func patientWorkComesLast(t *testing.T) {
	a := newAdmission(2, time.Millisecond, newMeter()) // one of them heavy
	_, leave, err := a.enter(t.Context(), 2*lightSteps)
	if err != nil {
		t.Fatal(err)
	}
	begun := make(chan func())
	go func() {
		_, leave, err := a.enter(Patiently(context.Background()), 0)
		if err != nil {
			t.Error(err)
		}
		begun <- leave
	}()
	synctest.Wait()
	select {
	case <-begun:
		t.Fatal("began while somebody else had the worker")
	default:
	}
	leave()
	(<-begun)()
	gone, cancel := context.WithCancel(Patiently(t.Context()))
	_, leave = patiently(t, a)
	defer leave()
	cancel()
	if _, _, err := a.enter(gone, 0); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled work: %v", err)
	}
}

// Between its parts patient work gives its worker to whoever came, and goes on afterwards.
func TestPatientWorkGivesWay(t *testing.T) { synctest.Test(t, patientWorkGivesWay) }

func patientWorkGivesWay(t *testing.T) {
	a := newAdmission(2, time.Minute, newMeter())
	working, leave := patiently(t, a)
	defer leave()
	if err := giveWay(working); err != nil || turnOf(working).at == nil {
		t.Fatalf("gave way to nobody: %v", err)
	}
	_, leaveOther, err := a.enter(t.Context(), 2*lightSteps)
	if err != nil {
		t.Fatal(err)
	}
	on := make(chan error)
	go func() { on <- giveWay(working) }()
	synctest.Wait()
	select {
	case err := <-on:
		t.Fatalf("kept the worker: %v", err)
	default:
	}
	leaveOther()
	if err := <-on; err != nil || turnOf(working).at == nil {
		t.Fatalf("doesn't go on: %v", err)
	}
}

// What is wrong is found in a rehearsal, and nothing is computed.
func TestRehearsal(t *testing.T) {
	e := newEngine(t, Config{})
	profile := CourseSource{Profile: &Profile{DistanceM: []float64{0, 1000}, ElevationM: []float64{0, 20}}}
	if _, err := e.Course(Rehearse(t.Context()), profile); !errors.Is(err, ErrRehearsed) {
		t.Errorf("a table: %v", err)
	}
	absent := CourseSource{ID: "00000000000000000000000000000000"}
	if _, err := e.Course(Rehearse(t.Context()), absent); !errors.Is(err, ErrNotCached) {
		t.Errorf("a course that isn't there: %v", err)
	}
	made, err := e.Course(t.Context(), profile)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := e.Course(Rehearse(t.Context()), CourseSource{ID: made.ID}); !errors.Is(err, ErrRehearsed) {
		t.Errorf("a course that is there: %v", err)
	}
}
