package main

import (
	"strings"
	"testing"
	"time"

	"parcours.example/api/contract"
)

// What the real service answers is shown: the same times and places as its comparison has, a
// bad round with its reason, and nothing of what riders are like unless it is asked for.
func TestRealAnswerIsShown(t *testing.T) {
	for _, personal := range []bool{false, true} {
		r, _, log := refresherOf(t, engine(t))
		r.board = newBoard("League", personal, time.Now)
		r.look(t.Context())
		s := r.board.snapshot()
		if s.State.Kind != current || s.Rounds[1].Problem == nil || s.Rounds[1].Problem.Kind != "not-the-format" && s.Rounds[1].Problem.Kind != "malformed-file" {
			t.Fatalf("%+v %+v", s.State, s.Rounds[1])
		}
		if dyke, summit := s.Rounds[0].timeOf("Bram"), s.Rounds[2].timeOf("Nour"); dyke.Place != 1 || summit.Place != 1 || *summit.SuitabilityPct <= 0 {
			t.Errorf("Bram by the dyke %+v, Nour on the summit %+v", dyke, summit)
		}
		if n := s.Riders[0]; n.Rider != "Nour" || n.TotalCount != 2 || len(n.BestSuited) == 0 || n.BestSuited[0].RoundID != "round-10-summit.csv" {
			t.Errorf("%+v", n)
		}
		body, _, err := r.board.encoded()
		if err != nil {
			t.Fatal(err)
		}
		everything := string(body) + string(s.roundsCSV()) + string(s.timesCSV()) + log.String()
		for _, secret := range []string{secretMass, secretPower, "W/kg", "w_per", "cda"} {
			if strings.Contains(everything, secret) && (!personal || secret == "cda") {
				t.Errorf("%q is shown", secret)
			}
		}
		if personal && (!strings.Contains(string(body), secretMass) || !strings.Contains(string(body), "W/kg")) {
			t.Errorf("what is asked for isn't shown: %s", body)
		}
	}
}

// The times that count are those of the service's comparison, also where there are several
// set-ups and W′ runs out on some.
func TestTimesThatCountAreThoseOfTheComparison(t *testing.T) {
	in := invented(t)
	write(t, in.riders, "name,mass_kg,power_w,critical_power_w,w_prime_j\nNour,61,230,245,15000\nBram,84,420,300,9000\nIlse,70,262,265,17000\n")
	asked, err := in.read()
	if err != nil {
		t.Fatal(err)
	}
	light, fast := "light", "fast"
	drag := -0.04
	asked.request.Setups = &[]contract.Setup{{Name: &light, MassKg: ref(6.5)}, {Name: &fast, MassKg: ref(9.5), CdaChangeM2: &drag}}
	r := &refresher{inputs: in}
	var rounds []shownRound
	for line, err := range engine(t).SeasonOfFiles(t.Context(), asked.request, r.files(asked.names)) {
		switch {
		case err != nil:
			t.Fatal(err)
		case line.Item != nil:
			rounds = append(rounds, roundOf(asked.names[line.Item.Index], line.Item, time.Now()))
		case line.End != nil:
			checkCounts(t, rounds, &line.End.Comparison)
		}
	}
}

func ref(x float64) *float64 { return &x }

func checkCounts(t *testing.T, rounds []shownRound, c *contract.SeasonComparison) {
	t.Helper()
	with, without := 0, 0
	for _, rider := range c.Riders {
		for _, want := range rider.Times {
			got := rounds[want.Index].timeOf(rider.Rider)
			if want.TimeS == nil {
				without++
				if got.TimeS != nil {
					t.Errorf("%s has a time in %s, and none in the comparison", rider.Rider, rounds[want.Index].RoundID)
				}
				continue
			}
			with++
			if got.TimeS == nil || *got.TimeS != *want.TimeS || got.Place != *want.Place || got.Setup != *want.Setup {
				t.Errorf("%s in %s: %+v, in the comparison %+v", rider.Rider, rounds[want.Index].RoundID, got, want)
			}
		}
	}
	if with == 0 || without == 0 {
		t.Errorf("%d times and %d without", with, without)
	}
}

// The lines of a service that counts otherwise do no harm.
func TestIndicesOutsideAreLeftOut(t *testing.T) {
	from := answering()
	from.lines = append([]*contract.SeasonLine{item(-1, 1), item(3, 1)}, from.lines...)
	comparison := &from.lines[len(from.lines)-1].End.Comparison
	comparison.Rounds = []contract.ComparedRound{{Index: 7}, {Index: -1}}
	comparison.Riders = []contract.ComparedRider{
		{Rider: "Nour", RiderIndex: 0, Times: []contract.ComparedTime{{Index: 9}}, BestSuited: []contract.Suited{{Index: 9}}}, {Rider: "?", RiderIndex: 44},
	}
	r, _, _ := refresherOf(t, from)
	r.look(t.Context())
	if s := r.board.snapshot(); s.State.Kind != current || len(s.Rounds) != 3 || len(s.Riders) != 3 {
		t.Errorf("%+v", s)
	}
}
