package main

import (
	"strings"
	"testing"
	"time"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// answering is a service that answers all three rounds.
func answering() *fake {
	return &fake{version: "5", lines: []*contract.SeasonLine{item(0, 1000), bad(1, 422), item(2, 2000), end("5")}}
}

func TestNothingIsAskedWhereNothingChanges(t *testing.T) {
	from := answering()
	r, hands, _ := refresherOf(t, from)
	for range 5 {
		r.look(t.Context())
		hands.pass(r.every)
	}
	s := r.board.snapshot()
	if from.times() != 1 || s.State.Kind != current || len(s.Rounds) != 3 || s.Rounds[1].Problem == nil || s.Rounds[2].timeOf("Nour").TimeS == nil {
		t.Errorf("asked %d times: %+v", from.times(), s)
	}
	write(t, r.inputs.path("round-2-dyke.csv"), profile(3, func(int) int { return 0 }))
	r.look(t.Context())
	from.set(func(f *fake) { f.version = "6" })
	r.look(t.Context())
	r.look(t.Context())
	if from.times() != 3 {
		t.Errorf("asked %d times, of 1 change of a file and 1 of the engine", from.times()-1)
	}
}

func TestRoundsAreShownAsTheyCome(t *testing.T) {
	from := answering()
	r, hands, _ := refresherOf(t, from)
	r.look(t.Context())
	first := *r.board.snapshot().AnsweredAt
	hands.pass(time.Hour)
	from.set(func(f *fake) { f.step, f.version = make(chan struct{}), "6" })
	done := make(chan struct{})
	go func() { defer close(done); r.look(t.Context()) }()
	from.step <- struct{}{}
	from.step <- struct{}{} // the first has been taken by now
	s := r.board.snapshot()
	if s.State.Kind != refreshing || s.State.OfCount != 3 || s.State.DoneCount < 1 || !s.AnsweredAt.Equal(first) {
		t.Errorf("while it is asked: %+v", s.State)
	}
	if s.Rounds[0].Before || !s.Rounds[0].AnsweredAt.After(first) || !s.Rounds[2].Before || !s.Rounds[2].AnsweredAt.Equal(first) {
		t.Errorf("while it is asked: %+v", s.Rounds)
	}
	close(from.step)
	<-done
	if s := r.board.snapshot(); s.State.Kind != current || s.Rounds[2].Before || !s.AnsweredAt.After(first) {
		t.Errorf("at the end: %+v", s)
	}
}

func TestAnswerIsKeptWhileTheServiceIsAway(t *testing.T) {
	from := answering()
	r, hands, log := refresherOf(t, from)
	r.look(t.Context())
	at := *r.board.snapshot().AnsweredAt
	from.set(func(f *fake) { f.away = errGone })
	for range 3 {
		hands.pass(r.every)
		r.look(t.Context())
	}
	s := r.board.snapshot()
	if s.State.Kind != stale || s.State.Reason != "The service doesn't answer." || !s.State.Since.Equal(at.Add(r.every)) || !s.AnsweredAt.Equal(at) || s.Rounds[2].timeOf("Nour").TimeS == nil {
		t.Errorf("%+v", s)
	}
	if n := strings.Count(log.String(), "no answer"); n != 1 {
		t.Errorf("it is logged %d times: %s", n, log)
	}
	from.set(func(f *fake) { f.away = nil })
	r.look(t.Context())
	if s := r.board.snapshot(); s.State.Kind != current || from.times() != 1 {
		t.Errorf("back: %+v, asked %d times", s.State, from.times())
	}
}

func TestFailuresAreTriedAgainLessAndLessOften(t *testing.T) {
	for _, c := range []struct {
		name  string
		fails func(*fake)
		state string
	}{
		{"broken off", func(f *fake) { f.lines, f.err = f.lines[:1], errGone }, stale},
		{"without an end", func(f *fake) { f.lines = f.lines[:3] }, stale},
		{"busy", func(f *fake) {
			f.lines, f.err = nil, &client.Problem{Problem: contract.Problem{Type: "/problems/busy", Status: 503}}
		}, stale},
		{"a round that may be there later", func(f *fake) { f.lines[1] = bad(1, 503) }, current},
	} {
		from := answering()
		c.fails(from)
		r, hands, _ := refresherOf(t, from)
		for range 31 { // of 10 s: after 20, 40, 80 and 160 s
			r.look(t.Context())
			hands.pass(r.every)
		}
		if from.times() != 5 || r.board.snapshot().State.Kind != c.state {
			t.Errorf("%s: asked %d times, %+v", c.name, from.times(), r.board.snapshot().State)
		}
		if from.asked = 0; r.board.snapshot().Rounds[0].RoundID == "" {
			t.Errorf("%s: %+v", c.name, r.board.snapshot().Rounds)
		}
		write(t, r.inputs.riders, "name,mass_kg,power_w\nNour,60,230\n")
		r.look(t.Context())
		if from.times() != 1 {
			t.Errorf("%s: what has changed isn't asked at once", c.name)
		}
	}
}

func TestRefusalIsTakenForAnAnswer(t *testing.T) {
	detail, place := "A rider is too light.", "#/riders/0/mass_kg"
	from := &fake{version: "5", err: &client.Problem{Problem: contract.Problem{
		Type: "/problems/invalid-request", Status: 400, Detail: &detail, Errors: &[]contract.Fault{{Pointer: &place, Detail: "at least 20"}},
	}}}
	r, hands, log := refresherOf(t, from)
	for range 50 {
		r.look(t.Context())
		hands.pass(time.Minute)
	}
	s := r.board.snapshot()
	if from.times() != 1 || s.State.Kind != stale || s.State.Reason != "The service refuses the season. A rider is too light. #/riders/0/mass_kg: at least 20." {
		t.Errorf("asked %d times: %+v", from.times(), s.State)
	}
	if strings.Contains(log.String(), "light") || !strings.Contains(log.String(), "invalid-request") {
		t.Errorf("logged: %s", log)
	}
}

func TestFaultOfTheRosterKeepsTheAnswer(t *testing.T) {
	from := answering()
	r, _, log := refresherOf(t, from)
	r.look(t.Context())
	write(t, r.inputs.riders, "name,mass_kg,power_w\nNour,"+secretMass+"x,230\n")
	r.look(t.Context())
	s := r.board.snapshot()
	if s.State.Kind != stale || !strings.Contains(s.State.Reason, "line 2") || s.Rounds[0].timeOf("Nour").TimeS == nil || strings.Contains(s.State.Reason+log.String(), secretMass) {
		t.Errorf("%+v; %s", s.State, log)
	}
}
