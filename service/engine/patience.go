package engine

import "context"

// patientKey is where a context keeps that its work is patient.
type patientKey struct{}

// Patiently returns a context for work that nobody waits for right now. It is never refused; it
// begins when there are workers that nobody else waits for, and between its parts it gives them
// to whoever comes: so however much of it there is, others wait for it no longer than a part
// takes to end, and mostly not at all.
func Patiently(ctx context.Context) context.Context {
	return context.WithValue(ctx, patientKey{}, true)
}

func patient(ctx context.Context) bool { return ctx.Value(patientKey{}) != nil }

// takePatiently is take for patient work.
func (l *workerLane) takePatiently(ctx context.Context) (*place, error) {
	l.mu.Lock()
	if l.room() > 0 && l.waiting() == 0 && l.patient.Len() == 0 {
		defer l.mu.Unlock()
		return l.grant(0, true), nil
	}
	at := l.patient.PushBack(&waiter{granted: make(chan *place, 1)})
	l.mu.Unlock()
	return l.await(ctx, &l.patient, at, true)
}

// room is how many workers nobody has at all; below 0 where some have been given to others
// while patient work still has them.
func (l *workerLane) room() int { return l.size - len(l.places) - l.hired }

// crowds reports whether patient work has a worker that somebody else needs.
func (l *workerLane) crowds() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.waiting() > 0 || l.room() < 0
}

// giveWay lets others go first where patient work has a worker that they need. It is called
// between the parts of a computation, and fails with the context's error.
func giveWay(working context.Context) error {
	t := turnOf(working)
	if !patient(working) || t == nil || t.at == nil || !t.at.lane.crowds() {
		return nil
	}
	l := t.at.lane
	t.end()
	var err error
	t.at, err = l.takePatiently(working)
	return err
}
