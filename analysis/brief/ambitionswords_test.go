package brief

import (
	"math"
	"strings"
	"testing"

	"parcours.example/analysis/aid"
	"parcours.example/analysis/choice"
	"parcours.example/analysis/duel"
	"parcours.example/analysis/launch"
	"parcours.example/analysis/tally"
)

// ahead is a ranking of two set-ups, the first of which leads by a gap.
func ahead(s float64, tied bool, crossings ...choice.Crossing) choice.Ranking {
	return choice.Ranking{
		Places: []choice.Place{{Setup: 0}, {Setup: 1, Behind: choice.Gap{S: s, LowS: s - 2, HighS: s + 2, SDS: 1, Tied: tied}}},
		Costs:  []choice.Gap{{S: 4}, {}}, Crossings: crossings,
	}
}

// on gives riders a ranking at the finish each.
func on(rankings ...choice.Ranking) *Answers {
	a := &SetupAnswer{Setups: []string{"light", "aero"}, Ambitions: []Place{{Of: AtFinish}}, Passes: []int{1}, CoveragePct: 90}
	for i, r := range rankings {
		a.Riders = append(a.Riders, RiderAnswer{Name: []string{"Nour", "Bram", "Isa"}[i], Verdict: &choice.Verdict{Rankings: []choice.Ranking{r}}})
	}
	return &Answers{Setups: a}
}

// changing gives a rider a change of bike that comes to a trial.
func changing(t choice.Trial) *Answers {
	a := on(ahead(3, false))
	a.Setups.Changes = []ChangeAnswer{{From: 1, To: 0, Spots: []Place{{Of: AtClimb, Index: 2, Pass: 1}}, Stops: true}}
	t.LevelAtM = math.NaN()
	a.Setups.Riders[0].Verdict.Changes = []choice.Changed{{Trials: []choice.Trial{t}}}
	return a
}

// sprinting gives riders launches to a line on its second pass.
func sprinting(sprints ...*launch.Sprint) *Answers {
	a := &LaunchAnswer{Setups: 1}
	for i, s := range sprints {
		a.AssumedPowerW = append(a.AssumedPowerW, math.NaN())
		a.Launches = append(a.Launches, Launched{
			Passes: []Place{{Of: AtMark, Pass: 2}}, RiderIndex: i, Rider: []string{"Nour", "Bram"}[i],
			Approach: launch.Approach{SpeedMps: 12.5, Place: 2}, Sprint: s, BendBeforeM: math.NaN(),
		})
	}
	return &Answers{Launches: a}
}

func sprint(launchM, timeS, aheadS float64) *launch.Sprint {
	return &launch.Sprint{
		Best:      launch.Best{LaunchM: launchM, LaunchS: 12, TimeS: timeS, AheadS: aheadS, LineSpeedMps: 16},
		EarliestM: launchM + 10, LatestM: launchM - 10, LostM: math.NaN(), Offsets: []launch.Offset{{EarlierM: 50, CostS: 0.12}},
	}
}

// aided gives riders uses of one aid, the best first.
func aided(a aid.Aid, found ...*aid.Found) *Answers {
	out := &AidAnswer{At: Place{Of: AtFinish}, Names: []string{"Feather"}, Aids: []aid.Aid{a}}
	for i, f := range found {
		out.Cases = append(out.Cases, AidCase{Ride: i, Rider: []string{"Nour", "Bram"}[i], Found: []*aid.Found{f}, Sprints: [][]*aid.Sprint{nil}})
	}
	return &Answers{Aids: out}
}

func uses(of ...aid.Use) *aid.Found {
	f := &aid.Found{Samples: []aid.Use{{}}}
	for _, u := range of {
		f.Best = append(f.Best, aid.Best{Use: u, FromM: u.AtM, ToM: u.AtM})
	}
	return f
}

// racing gives two riders odds to win.
func racing(told bool, level []int, wins ...float64) *Answers {
	r := &RaceAnswer{Riders: []string{"Nour", "Bram", "Isa"}[:len(wins)], Named: len(wins)}
	r.Result = tally.Result{Runs: 40, Key: -1, Favourite: tally.Margin{Next: 1, Told: told, Level: level}, FavouriteTeam: tally.Margin{Best: -1, Next: -1}}
	for _, p := range wins {
		r.Result.Entrants = append(r.Result.Entrants, tally.Entrant{Win: tally.Odds{N: 40, P: p, SE: math.Sqrt(p * (1 - p) / 40), Low: 0.9}, TimeS: tally.Mean{Mean: 3600}})
	}
	r.Result.Split.Posts = []tally.AtPost{{Within: tally.Mean{Mean: float64(len(wins)) - 0.1}}}
	return &Answers{Race: r}
}

func with(a *Answers, change func(a *Answers)) *Answers {
	change(a)
	return a
}

// TestAnswersSayWhatIsSo holds sentences against the facts that they are to tell, and that
// other facts don't tell them.
func TestAnswersSayWhatIsSo(t *testing.T) {
	power := choice.Crossing{Quantity: choice.Power, At: 310, From: 100, To: 400, BetterAbove: 1}
	firm := choice.Crossing{Quantity: choice.RiderMass, At: math.NaN(), From: 40, To: 120}
	light := aid.Aid{DragFactor: 0.8, WakeFactor: 1, DurationS: 20}
	veil := aid.Aid{DragFactor: 1, WakeFactor: 0, DurationS: 20}
	follower := &aid.Follower{AddedW: 60, OpensM: 4.5, LostS: 0.5}
	decisive := &tally.Decisive{Before: tally.Mean{Mean: 1.9}, After: tally.Mean{Mean: 1.1}, Lost: tally.Mean{Mean: 0.8}, Largest: tally.Odds{N: 40, P: 0.8, SE: 0.06}}
	climb := &Place{Of: AtClimb, Index: 2, Pass: 1}
	contest := func(a *Answers, told bool, wins ...float64) *Answers {
		c := tally.Contest{Favourite: tally.Margin{Next: 1, Told: told}, FavouriteTeam: tally.Margin{Best: -1, Next: -1}}
		for _, p := range wins {
			c.Entrants = append(c.Entrants, tally.Points{Win: tally.Odds{N: 40, P: p}, Points: tally.Mean{Mean: 10 * p}})
		}
		a.Race.Result.Contests, a.Race.Contests = []tally.Contest{c}, []ContestAnswer{{Name: "Points", Places: []Place{{Of: AtMark, Pass: 1}, {Of: AtMark, Pass: 2}}}}
		return a
	}
	for _, c := range []struct {
		name    string
		answers *Answers
		says    []string
		silent  string
	}{
		{"a clear choice", on(ahead(5, false, power)), []string{"light, 5.0 s ahead of aero (3.0 s to 7.0 s with 90 % certainty)", "It would be aero above 310 W."}, "no telling"},
		{"a choice that holds", on(ahead(5, false, firm)), []string{"That order holds for any rider from 40 kg to 120 kg"}, "It would be"},
		{"a tie", on(ahead(1, true)), []string{"no telling light and aero apart: light is 1.0 s ahead, with 90 % certainty anything from −1.0 s to 3.0 s"}, "It would be"},
		{"no ride", on(choice.Ranking{}), []string{"none of them gets there"}, "ahead"},
		{"one ride", on(choice.Ranking{Places: []choice.Place{{Setup: 1}}}), []string{"only aero gets there"}, "ahead of"},
		{"no difference", on(choice.Ranking{Places: []choice.Place{{}, {Setup: 1}}}), []string{"no matter, light and aero take the same time"}, "ahead"},
		{"several riders", on(ahead(5, false, power), ahead(1, true, power), choice.Ranking{}), []string{"light for Nour (by 5.0 s); no telling light and aero apart for Bram (light by 1.0 s); none of them for Isa (a halt)", "It would be aero above 310 W for Nour and Bram."}, "certainty"},
		{"W′ runs out", with(on(ahead(5, false)), func(a *Answers) { a.Setups.Riders[0].Infeasible = []bool{false, true} }), []string{"On aero for Nour this effort asks for more than W′ holds"}, ""},
		{"a climb apart", with(on(ahead(5, true)), func(a *Answers) {
			a.Setups.Ambitions, a.Setups.Passes, a.Setups.Finish = append([]Place{{Of: AtClimb, Index: 0, Pass: 1, StartM: 1, EndM: 2}}, a.Setups.Ambitions...), []int{4, 1}, 1
			a.Setups.Riders[0].Verdict.Rankings = append([]choice.Ranking{ahead(9, false)}, a.Setups.Riders[0].Verdict.Rankings...)
		}), []string{"For the climb: Quarry Bank", "light, 9.0 s a pass ahead of aero"}, "Nothing else"},
		{"a change that pays", changing(choice.Trial{Gain: choice.Gap{S: 6}, LostS: 20, WonS: 26, BreakEvenS: 21, OpenedS: 20, OpenedM: 200}), []string{"from aero to light at the foot of Beacon Top: it pays by 6.0 s, 20 s lost and 26 s won.", "It pays with up to 21 s of standing.", "Those who ride on get 20 s ahead (200 m), not closed by the finish."}, "costs"},
		{"a change that doesn't", changing(choice.Trial{Gain: choice.Gap{S: -6}, LostS: 20, WonS: 14, BreakEvenS: 9}), []string{"it costs 6.0 s, 20 s lost and only 14 s won", "It would pay with less than 9.0 s of standing."}, "pays by"},
		{"a change that never pays", changing(choice.Trial{Gain: choice.Gap{S: -26}, LostS: 20, WonS: -6, BreakEvenS: -11}), []string{"the other bike isn't faster from there on", "It wouldn't pay with no standing at all."}, "won"},
		{"a change that can't be told", changing(choice.Trial{Gain: choice.Gap{S: 1, LowS: -3, HighS: 5, Tied: true}, BreakEvenS: 16}), []string{"not to be told from none, anything from −3.0 s to 5.0 s"}, "costs"},
		{"two launches", sprinting(sprint(180, 20, 0.3), sprint(210, 20.4, 0.1)), []string{"Nour 180 m before the line, 12 s from it, on second wheel at 45.0 km/h; 57.6 km/h at the line; Bram 210 m before it and 0.40 s later there", "50 m too early costs 0.12 s.", "That is 0.30 s (4.8 m) ahead"}, "stays"},
		{"a launch that is too slow", sprinting(sprint(180, 20, -0.3)), []string{"The head of the line stays 0.30 s (4.8 m) ahead"}, "That is"},
		{"no launch", sprinting(sprint(0, 20, 0)), []string{"Nour stays on the wheel"}, "too early"},
		{"nobody up to the line", sprinting(nil), []string{"nobody gets up to the line"}, "stays"},
		{"a guess and a bend", with(sprinting(sprint(180, 20, 0)), func(a *Answers) {
			a.Launches.AssumedPowerW[0], a.Launches.Launches[0].BendBeforeM, a.Launches.Launches[0].BendSpeedMps = 900, 80, 10
		}), []string{"A bend 80 m before the line allows 36.0 km/h", "a guess, 900 W for Nour"}, ""},
		{"an aid", aided(light, uses(aid.Use{AtM: 55_000, GainS: 2}, aid.Use{AtM: 10_000, GainS: 1})), []string{"worth most at 55.00 km, on Beacon Top, 2.0 s at the finish.", "Next best is at 10.00 km, on climb 2, lap 1, 1.0 s less."}, "as good"},
		{"an aid as good elsewhere", aided(light, uses(aid.Use{AtM: 55_000, GainS: 2}, aid.Use{AtM: 10_000, GainS: 1.99})), []string{"It is about as good at 10.00 km"}, "Next best"},
		{"an aid for others elsewhere", aided(light, uses(aid.Use{AtM: 55_000, GainS: 2}), uses(aid.Use{AtM: 20_000, GainS: 3})), []string{"That is for Nour; for Bram it is at 20.00 km, lap 2 (3.0 s)."}, "same"},
		{"an aid for nothing", aided(light, uses()), []string{"it gains nothing anywhere"}, "worth"},
		{"an aid that halts", aided(light, nil), []string{"with it Nour comes to a halt"}, "worth"},
		{"an aid that denies shelter", aided(veil, uses(aid.Use{AtM: 55_000, Follower: follower})), []string{"takes most from who follows at 55.00 km", "needs 60 W more to hold the wheel, or loses 4.5 m"}, "worth"},
		{"an aid too late", with(aided(light, &aid.Found{}), func(a *Answers) { a.Aids.Aids[0].EarnedM = []float64{900} }), []string{"nobody has it before the finish"}, "worth"},
		{"a likely winner", racing(true, nil, 0.7, 0.3), []string{"Winner: Nour (70 % ± 7 %) is the likeliest in 40 runs, before Bram (30 % ± 7 %).", "The field stays together"}, "open"},
		{"no clear winner", racing(false, []int{1}, 0.55, 0.45), []string{"open in 40 runs, between Nour (55 % ± 8 %) and Bram (45 % ± 8 %)"}, "likeliest"},
		{"a sure winner", racing(true, nil, 1, 0), []string{"Nour wins all 40 runs: the odds are 90 % at least"}, "open"},
		{"alone", with(racing(true, nil, 1), func(a *Answers) { a.Race.Result.Favourite.Next = -1 }), []string{"Nour rides alone and takes 1:00:00 on average"}, "field"},
		{"nobody finishes", with(racing(true, nil, 0, 0), func(a *Answers) { a.Race.Result.Favourite.Best = -1 }), []string{"nobody finishes in any of 40 runs"}, "field"},
		{"a split", with(racing(true, nil, 0.7, 0.3), func(a *Answers) { a.Race.Decisive, a.Race.Result.Split.Decisive = climb, decisive }), []string{"The field splits on Beacon Top: of two, 1.9 are with the front before it and 1.1 after, on average; the largest split is there in 80 % ± 6 % of the runs."}, "together"},
		{"a field that crumbles", with(racing(true, nil, 0.7, 0.3), func(a *Answers) { a.Race.Result.Split.Posts[0].Within.Mean = 1 }), []string{"comes apart bit by bit"}, "together"},
		{"riders by name in a drawn field", with(racing(true, nil, 0.5, 0.5, 0), func(a *Answers) {
			a.Race.Riders, a.Race.Named, a.Race.Result.Favourite = []string{"Nour", "Bram", "Field"}, 1, tally.Margin{Best: 1, Next: 2, Told: true}
		}), []string{"Of the riders by name: Nour (50 % ± 8 %)."}, ""},
		{"a duel", with(racing(true, nil, 0.7, 0.3), func(a *Answers) {
			a.Race.Duel = &duel.Answer{Heavier: duel.Rider{MassKg: 80}, Lighter: duel.Rider{MassKg: 60, WPerKg: 3.5}, GapS: -12, Power: duel.Tipping{Found: true, Value: 3.4}}
			a.Race.Lighter = 1
		}), []string{"Bram (60 kg) is 12 s ahead of Nour (80 kg); they are level where the lighter rides 3.40 W/kg instead of 3.50 W/kg"}, ""},
		{"points", contest(racing(true, nil, 0.7, 0.3), true, 0.6, 0.2), []string{"For the sprint: Alder Lane", "Nour is the likeliest to win it, 60 % with 6 points on average, before Bram, 20 % with 2 points on average"}, "open"},
		{"open points", contest(racing(true, nil, 0.7, 0.3), false, 0.6, 0.4), []string{"Points: open between Nour, 60 %"}, "likeliest to win it"},
		{"sure points", contest(racing(true, nil, 0.7, 0.3), true, 0.98, 0.02), []string{"Nour is all but sure of it, 98 %"}, "likeliest to win it"},
		{"no points", contest(racing(true, nil, 0.7, 0.3), true, 0, 0), []string{"nobody scores in any of 40 runs"}, "sure"},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := hilltop()
			in.Rides, in.Answers = nil, c.answers
			b := Write(in)
			var text strings.Builder
			for _, s := range b.Sections {
				if strings.HasPrefix(s.Heading, "For ") || strings.HasPrefix(s.Heading, "How the race") {
					text.WriteString(s.Heading + "\n" + strings.Join(s.Lines, "\n") + "\n")
				}
			}
			for _, want := range c.says {
				if !strings.Contains(text.String(), want) {
					t.Errorf("doesn't say %q:\n%s", want, text.String())
				}
			}
			if c.silent != "" && strings.Contains(text.String(), c.silent) {
				t.Errorf("says %q:\n%s", c.silent, text.String())
			}
			readsWell(t, c.name, b)
		})
	}
}

// TestCautionsOfAnswers holds that an answer brings its cautions, once, and no other's.
func TestCautionsOfAnswers(t *testing.T) {
	in := hilltop()
	in.Answers = changing(choice.Trial{Gain: choice.Gap{S: 6}})
	in.Answers.Launches = sprinting(sprint(180, 20, 0)).Launches
	got := strings.Join(Write(in).Cautions, "\n")
	if strings.Count(got, choice.ChangeCaution) != 1 || strings.Count(got, launch.Caution) != 1 || strings.Contains(got, aid.Caution) || strings.Contains(got, tally.Caution) {
		t.Error(got)
	}
	in.Answers, in.Indoor = racing(true, nil, 1), true
	got = strings.Join(Write(in).Cautions, "\n")
	if !strings.Contains(got, tally.Caution) || !strings.Contains(got, tally.RidingCaution) || strings.Contains(got, launch.Caution) {
		t.Error(got)
	}
}
