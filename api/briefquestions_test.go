package api_test

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"parcours.example/api/contract"
	"parcours.example/internal/golden"
	"parcours.example/service/engine"
)

// asking is a brief's request of two riders on two set-ups over a course of the season, and
// the questions that go with it.
func asking(t *testing.T, h *harness, stem string) (body, questions object) {
	t.Helper()
	w := h.send(t, request(http.MethodPost, "/v1/courses", "application/gpx+xml", readFile(t, "testdata/season/"+stem+".gpx")))
	var course contract.Course
	if err := json.Unmarshal(w.Body.Bytes(), &course); err != nil {
		t.Fatal(err)
	}
	sprint := slices.IndexFunc(course.Marks, func(m contract.Mark) bool { return m.Kind == "sprint" })
	toSprint := object{"mark_id": course.Marks[sprint].MarkID}
	comparisons := object{}
	contests := []any{object{"name": "Sprint prize", "scores": []any{object{"by": "crossing", "at": toSprint, "points": []float64{5, 3, 1}}}}}
	if n := len(course.Climbs); n > 0 {
		whole := slices.IndexFunc(course.Climbs, func(c contract.Climb) bool { return c.ParentClimbID == nil && c.LengthM > 3000 })
		last := object{"climb_id": course.Climbs[whole].ClimbID, "pass": 1}
		comparisons = object{"changes": []any{object{"from": "aero", "to": "light", "at": last}, object{"from": "aero", "to": "light"}}}
		contests = append(contests, object{"name": "Hills", "scores": []any{
			object{"by": "section_time", "at": last, "points": []float64{4, 2}}, object{"by": "finish", "points": []float64{5}},
		}})
	}
	body = object{
		"course": object{"course_id": course.CourseID},
		"riders": []any{
			object{"name": "Nour", "mass_kg": 61.0, "critical_power_w": 255.0, "w_prime_j": 15_000.0, "max_power_w": 880.0},
			object{"name": "Bram", "mass_kg": 82.0, "height_m": 1.88, "critical_power_w": 318.0, "w_prime_j": 22_000.0},
		},
		"setups": []any{object{"name": "aero", "mass_kg": 8.6, "cda_change_m2": -0.02}, object{"name": "light", "mass_kg": 6.8}},
		"effort": object{"kind": "fraction", "of_critical_power": 0.9},
	}
	return body, object{
		"comparisons": comparisons,
		"launches":    object{"lines": []any{object{"at": toSprint}, object{"at": object{"finish": true}, "position": 3}}},
		"aids": object{"aids": []any{
			object{"name": "Feather", "mass_change_kg": -6.0, "duration_s": 20.0},
			object{"name": "Veil", "wake_factor": 0.0, "duration_s": 10.0, "available_from": []any{course.Marks[sprint].MarkID}},
		}},
		"scenarios": object{"drawn": []any{object{"name": "Field", "count": 6, "team": "Weir"}}, "contests": contests, "rules": object{"runs": 10}},
	}
}

// writeBrief sends a brief's request and reads its answer.
func writeBrief(t *testing.T, h *harness, body any) contract.Brief {
	t.Helper()
	w := h.send(t, post(t, "/v1/briefs", body))
	var b contract.Brief
	if err := json.Unmarshal(w.Body.Bytes(), &b); err != nil || w.Code != http.StatusOK {
		t.Fatalf("status %d, %v: %.1000s\n%s", w.Code, err, w.Body, h.log)
	}
	return b
}

// stems are the courses of the season that are asked about.
func stems() []string {
	all := []string{"quellmere-criterium", "morvask-laps-and-climb", "ludwether-mountain-stage"}
	if testing.Short() {
		return all[:1]
	}
	return all
}

// TestBriefAnswersAsTheCallsDo demands that every number that a brief tells of its questions
// is the one that the question's own call answers, in either units, and that every sentence on them reads as it was read.
func TestBriefAnswersAsTheCallsDo(t *testing.T) {
	for _, stem := range stems() {
		t.Run(stem, func(t *testing.T) {
			h := newHarness(t, engine.Config{})
			body, questions := asking(t, h, stem)
			want := numbersOfCalls{}
			ask := func(path, question string, into any, without ...string) {
				r := with(body, questions[question].(object))
				for _, field := range without {
					delete(r, field)
				}
				w := h.send(t, post(t, path, r))
				if err := json.Unmarshal(w.Body.Bytes(), into); err != nil || w.Code != http.StatusOK {
					t.Fatalf("%s: status %d, %v: %.500s", path, w.Code, err, w.Body)
				}
			}
			var compared contract.Comparisons
			ask("/v1/comparisons", "comparisons", &compared)
			want.compared(compared)
			var launched contract.Launches
			ask("/v1/launches", "launches", &launched, "effort")
			want.launched(launched)
			var aided contract.Aids
			ask("/v1/aids", "aids", &aided)
			want.aided(aided)
			var raced contract.Scenario
			ask("/v1/scenarios", "scenarios", &raced)
			want.raced(raced)

			body["questions"] = questions
			metric := writeBrief(t, h, body)
			facts := metric.Facts
			if stem == stems()[0] {
				facts = slices.Concat(facts, writeBrief(t, h, with(body, object{"units": "imperial"})).Facts)
			}
			told := 0
			for _, f := range facts {
				if !asked.MatchString(f.Name) || strings.HasSuffix(f.Name, ".more") { // how many a list leaves out
					continue
				}
				told++
				value, known := want[f.Name]
				// Answers are rounded to thousandths, of which some figures are the difference; the speed
				// that a bend allows stands in words alone, in whole km/h.
				within := 0.0011
				if strings.HasSuffix(f.Name, ".bend_speed_mps") {
					within = 0.5 / 3.6
				}
				if !known || math.Abs(value-f.Value) > within {
					t.Errorf("%s: told %v (%s), answered %v", f.Name, f.Value, f.Text, value)
				}
			}
			if told < 50 {
				t.Errorf("%d numbers are told", told)
			}
			golden.Check(t, "questions-"+stem+".txt", answers(metric))
		})
	}
}

// asked are the names of facts that come from answers.
var asked = regexp.MustCompile(`^(comparison|launch(-\d+)?|aids|race)\.`)

// answers are the sections that answer questions, and the cautions.
func answers(b contract.Brief) string {
	var out strings.Builder
	for _, s := range b.Sections {
		if strings.HasPrefix(s.Heading, "For ") || strings.HasPrefix(s.Heading, "How the race") {
			fmt.Fprintf(&out, "%s\n- %s\n\n", s.Heading, strings.Join(s.Lines, "\n- "))
		}
	}
	return out.String() + strings.Join(b.Cautions, "\n") + "\n"
}

// numbersOfCalls are what calls answered, by the names of a brief's facts.
type numbersOfCalls map[string]float64

func (f numbersOfCalls) add(name string, value *float64) {
	if value != nil {
		f[name] = *value
	}
}

func (f numbersOfCalls) chance(name string, c *contract.Chance) {
	if c != nil {
		f[name], f[name+"_standard_error"], f[name+"_low"] = c.Value, c.StandardError, c.Low
	}
}

func (f numbersOfCalls) compared(c contract.Comparisons) {
	f["comparison.coverage_pct"] = engine.DefaultCoveragePct
	key := func(a contract.ToldAmbition) string {
		p := a.Passes[0]
		switch {
		case p.Of == "finish":
			return "finish"
		case len(a.Passes) == 1 && p.Pass != nil:
			return fmt.Sprintf("%s.pass-%d", *p.ID, *p.Pass)
		}
		return *p.ID
	}
	finish := slices.IndexFunc(c.Ambitions, func(a contract.ToldAmbition) bool { return a.Passes[0].Of == "finish" })
	for i, r := range c.Comparisons {
		for k, a := range r.Ambitions {
			fact := fmt.Sprintf("comparison.rider-%d.%s", i+1, key(c.Ambitions[k]))
			if len(a.Ranking) > 1 {
				behind := a.Ranking[1].Behind
				f[fact+".gap_s"], f[fact+".low_s"], f[fact+".high_s"] = behind.GapS, behind.LowS, behind.HighS
			}
			f[fact+".cost_s"] = a.Costs[finish].Cost.GapS
			for _, x := range a.Crossings {
				f.add(fmt.Sprintf("%s.crossing.%s", fact, x.Quantity), x.At)
				f[fmt.Sprintf("%s.crossing.%s_from", fact, x.Quantity)], f[fmt.Sprintf("%s.crossing.%s_to", fact, x.Quantity)] = x.From, x.To
			}
		}
		for k, change := range r.Changes {
			fact := fmt.Sprintf("comparison.rider-%d.change-%d", i+1, k+1)
			t := change.Trials[*change.BestTrialIndex]
			f[fact+".gain_s"], f[fact+".low_s"], f[fact+".high_s"] = t.Gain.GapS, t.Gain.LowS, t.Gain.HighS
			f.add(fact+".lost_s", t.LostS)
			f.add(fact+".won_s", t.WonS)
			f.add(fact+".break_even_standing_s", t.BreakEvenStandingS)
			f.add(fact+".opened_s", t.OpenedS)
			f.add(fact+".opened_m", t.OpenedM)
			f.add(fact+".level_after_m", t.LevelAfterM)
			f.add(fact+".against_best_s", t.AgainstBestSetupS)
			f[fmt.Sprintf("comparison.change-%d.tried", k+1)] = float64(len(change.Trials))
		}
	}
	f["comparison.others"] = float64(len(c.Ambitions) - 1)
}

func (f numbersOfCalls) launched(l contract.Launches) {
	for _, a := range l.Assumptions {
		var rider int
		if n, _ := fmt.Sscanf(a.Pointer, "#/riders/%d/", &rider); n == 1 && strings.HasSuffix(a.Pointer, "/max_power_w") {
			f[fmt.Sprintf("launch.rider-%d.max_power_w", rider+1)] = a.Value
		}
	}
	// Behind the soonest of those to the same line and passes.
	soonest := map[string]float64{}
	group := func(l contract.Launch) string { return fmt.Sprint(l.LineIndex, l.Passes[0].Place.StartM) }
	for _, x := range l.Launches {
		if least, known := soonest[group(x)]; !known || *x.TimeS < least {
			soonest[group(x)] = *x.TimeS
		}
	}
	for i, x := range l.Launches {
		fact := fmt.Sprintf("launch-%d", i+1)
		f.add(fact+".launch_before_m", x.LaunchBeforeM)
		f.add(fact+".launch_before_s", x.LaunchBeforeS)
		f.add(fact+".line_speed_mps", x.LineSpeedMps)
		f.add(fact+".earliest_before_m", x.EarliestBeforeM)
		f.add(fact+".latest_before_m", x.LatestBeforeM)
		f.add(fact+".ahead_s", x.AheadS)
		f.add(fact+".ahead_m", x.AheadM)
		f[fact+".approach_speed_mps"], f[fact+".head_power_w"] = x.Approach.SpeedMps, x.Approach.HeadPowerW
		f[fact+".behind_s"] = *x.TimeS - soonest[group(x)]
		f.add("launch.within_s", x.WithinS)
		for _, o := range *x.Offsets {
			side := map[bool]string{true: "early", false: "late"}[o.EarlierM > 0]
			if math.Abs(o.EarlierM) == 50 {
				f[fmt.Sprintf("%s.%s_m", fact, side)], f[fmt.Sprintf("%s.%s_cost_s", fact, side)] = 50, o.CostS
			}
		}
		for _, w := range *x.Warnings {
			if w.Code == "bend-in-approach" {
				var before, kmh float64
				if n, _ := fmt.Sscanf(w.Detail, "A bend %f m before the line, or braking for one, allows %f km/h", &before, &kmh); n == 2 {
					f[fact+".bend_before_m"], f[fact+".bend_speed_mps"] = x.Passes[0].Place.StartM-*w.AtM, kmh/3.6
				}
			}
		}
	}
}

func (f numbersOfCalls) aided(a contract.Aids) {
	for i, r := range a.Rides {
		for k, g := range *r.Aids {
			fact := fmt.Sprintf("aids.ride-%d.aid-%d", i+1, k+1)
			f.add(fmt.Sprintf("aids.aid-%d.first_at_m", k+1), g.FirstAtM)
			f.use(fact, g.Best)
			if len(*g.RunnersUp) > 0 {
				f.use(fact+".next", &(*g.RunnersUp)[0])
			}
			alike := 0
			for _, u := range *g.RunnersUp {
				if u.GainS >= 0.95*g.Best.GainS {
					alike++
				}
			}
			f[fact+".next.alike"] = float64(alike)
			lines := *g.Lines
			for j, line := range lines { // the last is that at which gains are taken, with which those before it count down
				n := sprints(a) - len(lines) + j + 1
				f[fmt.Sprintf("%s.line-%d.before_m", fact, n)], f[fmt.Sprintf("%s.line-%d.ahead_m", fact, n)] = line.BeforeM, line.AheadM
			}
		}
		if r.Joint == nil {
			continue
		}
		fact := fmt.Sprintf("aids.ride-%d.joint", i+1)
		f[fact+".gain_s"], f[fact+".uses"] = r.Joint.GainS, float64(len(r.Joint.Uses))
		for k, u := range r.Joint.Uses {
			f[fmt.Sprintf("%s-%d.at_m", fact, k+1)] = u.AtM
		}
	}
}

// sprints is how many lines aids are kept for.
func sprints(a contract.Aids) int {
	most := 0
	for _, r := range a.Rides {
		for _, g := range *r.Aids {
			most = max(most, len(*g.Lines))
		}
	}
	return most
}

func (f numbersOfCalls) use(fact string, u *contract.AidUse) {
	if u == nil {
		return
	}
	f[fact+".at_m"], f[fact+".gain_s"], f[fact+".behind_s"] = u.AtM, u.GainS, u.BehindS
	if u.Follower != nil {
		f[fact+".follower_added_w"], f[fact+".follower_opens_m"] = u.Follower.AddedW, u.Follower.OpensM
	}
	// What comes next stands in words: "140 m before Mill Lane, lap 3".
	var before float64
	if n, _ := fmt.Sscanf(u.Where, "%f m before", &before); n == 1 {
		f[fact+".about_before_m"] = before
	}
	if _, lap, found := strings.Cut(u.Where, ", lap "); found {
		var number float64
		fmt.Sscan(lap, &number) //nolint:errcheck // it is a number of ours
		f[fact+".lap"] = number
	}
}

func (f numbersOfCalls) raced(s contract.Scenario) {
	f["race.runs"], f["race.riders"], f["race.within_s"] = float64(*s.Rules.Runs), float64(len(s.Field)), 5
	f["race.finish.within_count"] = s.Posts[len(s.Posts)-1].WithinCount.Mean
	for i, r := range s.Riders {
		fact := fmt.Sprintf("race.rider-%d", i+1)
		f.chance(fact+".win", &r.Win)
		f[fact+".time_s"] = r.TimeS.Mean
	}
	for i, team := range s.Teams {
		f.chance(fmt.Sprintf("race.team-%d.win", i+1), &team.Win)
	}
	if d := s.Decisive; d != nil {
		f["race.decisive.before_count"], f["race.decisive.after_count"] = d.BeforeCount.Mean, d.AfterCount.Mean
		f["race.decisive.start_m"], f["race.decisive.end_m"] = d.StartM, d.EndM
		f.chance("race.decisive.largest", &d.Largest)
	}
	for i, l := range s.Lines {
		fact := fmt.Sprintf("race.line-%d", i+1)
		f[fact+".front_count"] = l.FrontCount.Mean
		f.chance(fact+".winner_in_front", &l.WinnerInFront)
		for k, r := range l.Riders {
			rider := fmt.Sprintf("%s.rider-%d", fact, k+1)
			f.chance(rider+".front", &r.Front)
			f.chance(rider+".win_from_front", r.WinFromFront)
			f.chance(rider+".win_from_behind", r.WinFromBehind)
		}
	}
	for i, c := range s.Contests {
		for _, p := range c.Riders {
			fact := fmt.Sprintf("race.contest-%d.rider-%d", i+1, *p.RiderIndex+1)
			f[fact+".points"] = p.Points.Mean
			f.chance(fact+".win", &p.Win)
		}
		for _, p := range c.Teams {
			fact := fmt.Sprintf("race.contest-%d.team-%d", i+1, 1+slices.IndexFunc(s.Teams, func(t contract.RaceTeam) bool { return t.Team == p.Name }))
			f[fact+".points"] = p.Points.Mean
			f.chance(fact+".win", &p.Win)
		}
	}
	d := s.Duel
	f["race.duel.gap_s"], f["race.duel.heavier.mass_kg"], f["race.duel.lighter.mass_kg"] = d.GapS, d.Heavier.MassKg, d.Lighter.MassKg
	f["race.duel.lighter.w_per_kg"] = d.Lighter.WPerKg
	f.add("race.duel.power.w_per_kg", d.Power.WPerKg)
}

// TestFaultsOfQuestionsArePlaced demands that what a question's own call refuses is refused
// below the question.
func TestFaultsOfQuestionsArePlaced(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for want, questions := range map[string]object{
		"#/questions/launches/lines/0/demand": {"launches": object{"lines": []any{object{"at": object{"finish": true}, "demand": 0.5, "approach_speed_mps": 9.0}}}},
		"#/questions/comparisons/crossings/1": {"comparisons": object{"crossings": []any{"power_w", "power_w"}}},
		"#/questions/comparisons/changes/0":   {"comparisons": object{"changes": []any{object{"to_index": 1}}}},
		"#/questions/aids/at":                 {"aids": object{"aids": []any{object{"duration_s": 9.0}}, "at": object{}}},
		"#/questions/aids/aids/0/duration_s":  {"aids": object{"aids": []any{object{"duration_s": 0.0}}}},
		"#/questions/scenarios/riders/0/orders/0/for_s": {"scenarios": object{"riders": []any{
			able("Nour", 60, 4, object{"orders": []any{object{"do": "sit_in", "for_s": 60}}}),
		}}},
		"#/questions/scenarios/contests/0/scores/0/at": {"scenarios": object{"contests": []any{
			object{"name": "A", "scores": []any{object{"by": "crossing", "points": []float64{1}}}},
		}}},
		"#/questions/launches": {"launches": object{"line": 1}},
	} {
		w := h.send(t, post(t, "/v1/briefs", object{"course": hilly(), "questions": questions}))
		var p contract.Problem
		if err := json.Unmarshal(w.Body.Bytes(), &p); err != nil || w.Code != http.StatusBadRequest || p.Errors == nil {
			t.Errorf("%s: status %d: %.300s", want, w.Code, w.Body)
		} else if at := (*p.Errors)[0].Pointer; at == nil || !strings.HasPrefix(*at, want) {
			t.Errorf("%s: %.300s", want, w.Body)
		}
	}
}
