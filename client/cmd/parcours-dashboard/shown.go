package main

import (
	"cmp"
	"math"
	"slices"
	"time"

	"parcours.example/api/contract"
)

// shown is what the page shows, as /answers.json gives it. It holds what is listed here and
// nothing else of the service's answer: no mass, power or position of a rider, unless they are
// to be shown.
type shown struct {
	Title string `json:"title"`
	State state  `json:"state"`
	// AnsweredAt is when the last whole answer came.
	AnsweredAt    *time.Time   `json:"answered_at,omitempty"`
	EngineVersion string       `json:"engine_version,omitempty"`
	Rounds        []shownRound `json:"rounds"`
	Riders        []shownRider `json:"riders"`
	Cautions      []string     `json:"cautions"`
	Model         []string     `json:"model"`
}

// state says how what is shown stands to the files and the service.
type state struct {
	// Kind is one of the kinds below.
	Kind string `json:"kind"`
	// Since is when it began.
	Since time.Time `json:"since"`
	// Reason says why an answer is stale, in a sentence.
	Reason string `json:"reason,omitempty"`
	// DoneCount and OfCount say how many rounds of an answer have come.
	DoneCount int `json:"done_count,omitempty"`
	OfCount   int `json:"of_count,omitempty"`
}

// The kinds of state.
const (
	// current: the answer is that of the files as they lie.
	current = "current"
	// refreshing: an answer is coming.
	refreshing = "refreshing"
	// stale: there is no answer for the files as they lie, or nobody to say so.
	stale = "stale"
)

// shownRound is a round as far as it is known.
type shownRound struct {
	RoundID string `json:"round_id"`
	// Name is what people call it.
	Name string `json:"name"`
	// AnsweredAt is when its answer came; absent while it is waited for.
	AnsweredAt *time.Time `json:"answered_at,omitempty"`
	// Before says that the answer is of an asking before the last.
	Before bool `json:"before,omitempty"`
	// Problem is why it has no figures.
	Problem *shownProblem `json:"problem,omitempty"`

	CourseID             string               `json:"course_id,omitempty"`
	DistanceM            *float64             `json:"distance_m,omitempty"`
	AscentM              *float64             `json:"ascent_m,omitempty"`
	AscentMPerKm         *float64             `json:"ascent_m_per_km,omitempty"`
	H2Index              *float64             `json:"h2_index,omitempty"`
	ShareBeforeLastClimb *float64             `json:"share_before_last_climb,omitempty"`
	RollingMPerKm        *float64             `json:"rolling_m_per_km,omitempty"`
	Shape                string               `json:"shape,omitempty"`
	LapsCount            *int                 `json:"laps_count,omitempty"`
	ClimbsCount          *int                 `json:"climbs_count,omitempty"`
	Decisive             string               `json:"decisive,omitempty"`
	Warnings             []contract.Warning   `json:"warnings,omitempty"`
	Ranks                *contract.RoundRanks `json:"ranks,omitempty"`
	// LeftOut says why the round doesn't count in totals and suitabilities.
	LeftOut string      `json:"left_out,omitempty"`
	Times   []shownTime `json:"times,omitempty"`
}

// shownProblem is why there is no answer.
type shownProblem struct {
	Kind   string `json:"kind"`
	Title  string `json:"title"`
	Detail string `json:"detail,omitempty"`
	// passing says that it may be gone when it is asked again.
	passing bool
}

// shownTime is a rider's time on a set-up.
type shownTime struct {
	Rider string `json:"rider"`
	Setup string `json:"setup"`
	// Counts says that it is the rider's fastest that can be held.
	Counts bool `json:"counts"`
	// Place is that among the times that count, equal ones sharing theirs.
	Place          int      `json:"place,omitempty"`
	TimeS          *float64 `json:"time_s,omitempty"`
	TimeLowS       *float64 `json:"time_low_s,omitempty"`
	TimeHighS      *float64 `json:"time_high_s,omitempty"`
	MeanSpeedMps   *float64 `json:"mean_speed_mps,omitempty"`
	SuitabilityPct *float64 `json:"suitability_pct,omitempty"`
	// WhyNot says why there is no time, or why it can't be held.
	WhyNot string `json:"why_not,omitempty"`
}

// shownRider is a rider over the season.
type shownRider struct {
	Rider string `json:"rider"`
	// MassKg and PowerW are the roster's, where they are to be shown.
	MassKg      *float64      `json:"mass_kg,omitempty"`
	PowerW      *float64      `json:"power_w,omitempty"`
	TotalTimeS  *float64      `json:"total_time_s,omitempty"`
	TotalCount  int           `json:"total_count,omitempty"`
	BehindS     *float64      `json:"behind_s,omitempty"`
	BestSuited  []shownSuited `json:"best_suited,omitempty"`
	LeastSuited []shownSuited `json:"least_suited,omitempty"`
}

// shownSuited is a round that suits a rider, or doesn't.
type shownSuited struct {
	RoundID            string  `json:"round_id"`
	SuitabilityPct     float64 `json:"suitability_pct"`
	PowerToMassPct     float64 `json:"power_to_mass_pct"`
	PowerToDragAreaPct float64 `json:"power_to_drag_area_pct"`
	RestPct            float64 `json:"rest_pct"`
	// Why holds the rider's power over mass and over drag area, where they are to be shown.
	Why string `json:"why,omitempty"`
}

// unable is said of a ride that asks for more than the rider has.
const unable = "W′ runs out: the effort can't be held"

// roundOf returns a round as it is answered.
func roundOf(id string, item *contract.SeasonItem, at time.Time) shownRound {
	r := shownRound{RoundID: id, Name: id, AnsweredAt: &at}
	if item.Problem != nil || item.Result == nil {
		r.Problem = problemOf(item.Problem)
		return r
	}
	c := item.Result
	if c.Name != nil && *c.Name != "" {
		r.Name = *c.Name
	}
	r.CourseID, r.DistanceM, r.AscentM, r.ShareBeforeLastClimb = c.CourseID, &c.DistanceM, c.AscentM, c.ShareBeforeLastClimb
	r.Shape, r.LapsCount, r.ClimbsCount, r.Decisive, r.Warnings = string(c.Shape), &c.Laps, &c.ClimbsCount, c.Decisive.Why, c.Warnings
	if c.AscentM != nil && c.DistanceM > 0 {
		perKm := math.Round(1e6**c.AscentM/c.DistanceM) / 1000 // to what the service rounds it to
		r.AscentMPerKm = &perKm
	}
	if c.Difficulty != nil {
		r.H2Index = &c.Difficulty.H2Index
	}
	if c.Rolling != nil {
		r.RollingMPerKm = &c.Rolling.AscentMPerKm
	}
	for i := range c.Predictions {
		r.Times = append(r.Times, timeOf(&c.Predictions[i]))
	}
	count(r.Times)
	return r
}

// problemOf returns a problem without where in the request it is: the request is this program's.
func problemOf(p *contract.Problem) *shownProblem {
	if p == nil {
		return &shownProblem{Kind: "internal", Title: "The service's answer holds neither a result nor a problem"}
	}
	shown := &shownProblem{Kind: kindOf(p), Title: p.Title, passing: p.Status >= 500 || p.Status == 429}
	if p.Detail != nil {
		shown.Detail = *p.Detail
	}
	return shown
}

// timeOf returns a prediction as a time.
func timeOf(p *contract.SeasonPrediction) shownTime {
	t := shownTime{Rider: p.Rider, Setup: p.Setup}
	if p.Problem != nil || p.TimeS == nil {
		t.WhyNot = problemOf(p.Problem).words()
		return t
	}
	t.TimeS, t.TimeLowS, t.TimeHighS, t.MeanSpeedMps = p.TimeS, p.TimeLowS, p.TimeHighS, p.MeanSpeedMps
	if p.Feasible != nil && !*p.Feasible {
		t.WhyNot = unable
	}
	return t
}

// words says a problem in one line.
func (p *shownProblem) words() string {
	if p.Detail == "" {
		return p.Title
	}
	return p.Detail
}

// count marks each rider's fastest time that can be held, of equal ones the first, and gives
// those their places.
func count(times []shownTime) {
	fastest := map[string]int{}
	for i, t := range times {
		if t.TimeS == nil || t.WhyNot != "" {
			continue
		}
		if best, ok := fastest[t.Rider]; !ok || *t.TimeS < *times[best].TimeS {
			fastest[t.Rider] = i
		}
	}
	var order []int
	for _, i := range fastest {
		times[i].Counts = true
		order = append(order, i)
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(*times[a].TimeS, *times[b].TimeS) })
	for n, i := range order {
		times[i].Place = n + 1
		if n > 0 && *times[order[n-1]].TimeS == *times[i].TimeS {
			times[i].Place = times[order[n-1]].Place
		}
	}
}

// compared adds to rounds, in the order in which they were sent, what the comparison says of
// them.
func compared(rounds []shownRound, c *contract.SeasonComparison) {
	for i := range c.Rounds {
		r := &c.Rounds[i]
		if r.Index < 0 || r.Index >= len(rounds) {
			continue
		}
		rounds[r.Index].Ranks = &r.Ranks
		if r.LeftOut != nil {
			rounds[r.Index].LeftOut = *r.LeftOut
		}
	}
	for i := range c.Riders {
		for _, t := range c.Riders[i].Times {
			if t.Index < 0 || t.Index >= len(rounds) || t.SuitabilityPct == nil {
				continue
			}
			times := rounds[t.Index].Times
			for k := range times {
				if times[k].Rider == c.Riders[i].Rider && times[k].Counts {
					times[k].SuitabilityPct = t.SuitabilityPct
				}
			}
		}
	}
}

// riderOf returns what the season comes to for a rider; names are those of the rounds in the
// order in which they were sent.
func riderOf(c *contract.ComparedRider, names []string, personal bool) shownRider {
	r := shownRider{Rider: c.Rider, TotalTimeS: c.TotalTimeS, BehindS: c.BehindS}
	if c.TotalCount != nil {
		r.TotalCount = *c.TotalCount
	}
	r.BestSuited, r.LeastSuited = suitedOf(c.BestSuited, names, personal), suitedOf(c.LeastSuited, names, personal)
	return r
}

func suitedOf(suited []contract.Suited, names []string, personal bool) (all []shownSuited) {
	for _, s := range suited {
		if s.Index < 0 || s.Index >= len(names) {
			continue
		}
		one := shownSuited{
			RoundID: names[s.Index], SuitabilityPct: s.SuitabilityPct, PowerToMassPct: s.Parts.PowerToMassPct,
			PowerToDragAreaPct: s.Parts.PowerToDragAreaPct, RestPct: s.Parts.RestPct,
		}
		if personal {
			one.Why = s.Why
		}
		all = append(all, one)
	}
	return all
}
