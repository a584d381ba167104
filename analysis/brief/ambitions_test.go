package brief

import (
	"math"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"parcours.example/analysis/aid"
	"parcours.example/analysis/choice"
	"parcours.example/analysis/duel"
	"parcours.example/analysis/launch"
	"parcours.example/analysis/tally"
	"pgregory.net/rapid"
)

// placesOf are all places that a question may be about on a course.
func placesOf(in Input) []Place {
	end := in.Course.LengthM()
	places := []Place{
		{Of: AtFinish, StartM: end, EndM: end},
		{Of: AtPoint, StartM: end / 3, EndM: end / 3},
		{Of: AtStretch, StartM: end / 4, EndM: end / 2},
	}
	for i, m := range in.Terrain.Marks {
		for k, p := range m.Passes {
			places = append(places, Place{Of: AtMark, Index: i, Pass: k + 1, StartM: p.AtM, EndM: p.AtM})
		}
	}
	for i, c := range in.Terrain.Climbs {
		for k, p := range c.Passes {
			places = append(places, Place{Of: AtClimb, Index: i, Pass: k + 1, StartM: p.StartM, EndM: p.EndM})
		}
	}
	return places
}

// drawing draws answers about a course.
type drawing struct {
	*rapid.T
	in     Input
	places []Place
	// names are what everything is called.
	names *rapid.Generator[string]
}

func (d drawing) number(low, high float64) float64 {
	return rapid.Float64Range(low, high).Draw(d.T, "number")
}
func (d drawing) count(low, high int) int { return rapid.IntRange(low, high).Draw(d.T, "count") }
func (d drawing) yes() bool               { return rapid.Bool().Draw(d.T, "yes") }
func (d drawing) name() string            { return d.names.Draw(d.T, "name") }
func (d drawing) place() Place            { return rapid.SampledFrom(d.places).Draw(d.T, "place") }

func (d drawing) named(n int) []string {
	out := make([]string, n)
	for i := range out {
		out[i] = d.name()
	}
	return out
}

// maybe is a number, or none.
func (d drawing) maybe(low, high float64) float64 {
	if d.yes() {
		return math.NaN()
	}
	return d.number(low, high)
}

// atTimes is how often something is, with a sampling error, of 40 runs.
func (d drawing) odds() tally.Odds {
	p := float64(d.count(0, 40)) / 40
	return tally.Odds{N: 40, P: p, SE: math.Sqrt(p * (1 - p) / 40), Low: p / 2, High: min(1, 2*p)}
}

func (d drawing) mean(low, high float64) tally.Mean {
	return tally.Mean{N: 40, Mean: d.number(low, high), SD: 1, SE: 0.2}
}

func (d drawing) answers() *Answers {
	a := &Answers{}
	if d.yes() {
		a.Setups = d.setups()
	}
	if d.yes() {
		a.Launches = d.launches()
	}
	if d.yes() {
		a.Aids = d.aids()
	}
	if d.yes() {
		a.Race = d.race()
	}
	return a
}

func (d drawing) gap() choice.Gap {
	if d.count(0, 5) == 0 {
		return choice.Gap{Tied: true}
	}
	s := d.number(0.01, 900)
	return choice.Gap{S: s, LowS: s - d.number(0, 2*s), HighS: 1.5 * s, SDS: s / 3, Tied: d.yes()}
}

func (d drawing) setups() *SetupAnswer {
	a := &SetupAnswer{Setups: d.named(d.count(2, 4)), CoveragePct: 90, Asked: d.yes()}
	for range d.count(0, 4) {
		a.Ambitions, a.Passes = append(a.Ambitions, d.place()), append(a.Passes, d.count(1, 3))
	}
	a.Finish = len(a.Ambitions)
	a.Ambitions, a.Passes = append(a.Ambitions, d.places[0]), append(a.Passes, 1)
	for range d.count(0, 2) {
		c := ChangeAnswer{From: 0, To: 1, Stops: d.yes()}
		for range d.count(1, 3) {
			c.Spots = append(c.Spots, d.place())
		}
		a.Changes = append(a.Changes, c)
	}
	for _, who := range d.named(d.count(1, 7)) {
		v := &choice.Verdict{}
		for range a.Ambitions {
			v.Rankings = append(v.Rankings, d.ranking(a))
		}
		for _, c := range a.Changes {
			v.Changes = append(v.Changes, d.changed(len(c.Spots)))
		}
		a.Riders = append(a.Riders, RiderAnswer{Name: who, Verdict: v, Infeasible: []bool{d.yes(), d.yes()}})
	}
	return a
}

func (d drawing) ranking(a *SetupAnswer) choice.Ranking {
	var r choice.Ranking
	for i := range d.count(0, len(a.Setups)) {
		p := choice.Place{Setup: i}
		if i > 0 {
			p.Behind = d.gap()
		}
		r.Places = append(r.Places, p)
	}
	for range a.Ambitions {
		r.Costs = append(r.Costs, d.gap())
	}
	if len(r.Places) > 1 {
		for _, q := range []choice.Quantity{choice.RiderMass, choice.Power, choice.Shelter, choice.Gradient} {
			r.Crossings = append(r.Crossings, choice.Crossing{Quantity: q, At: d.maybe(0.2, 300), From: 0.1, To: 400, BetterAbove: d.count(0, 1)})
		}
	}
	return r
}

func (d drawing) changed(spots int) choice.Changed {
	c := choice.Changed{Best: d.count(-1, spots-1)}
	for range spots {
		c.Trials = append(c.Trials, choice.Trial{
			Gain: choice.Gap{S: d.number(-90, 90), LowS: -95, HighS: 95, Tied: d.yes()}, LostS: d.number(0, 60), WonS: d.number(-60, 60),
			BreakEvenS: d.number(-60, 60), OpenedS: d.number(0, 60), OpenedM: d.number(1, 900), AtM: 10, LevelAtM: d.maybe(50, 9000), OverBestS: d.number(-9, 9),
		})
	}
	return c
}

func (d drawing) launches() *LaunchAnswer {
	a := &LaunchAnswer{Setups: d.count(1, 2)}
	riders := d.named(d.count(1, 6))
	for range riders {
		a.AssumedPowerW = append(a.AssumedPowerW, d.maybe(600, 1500))
	}
	for line := range d.count(1, 3) {
		passes := []Place{d.place()}
		if d.yes() {
			passes = append(passes, d.place())
		}
		for i, who := range riders {
			for k := range a.Setups {
				a.Launches = append(a.Launches, d.launched(Launched{
					Line: line, Passes: passes, RiderIndex: i, SetupIndex: k, Rider: who, Setup: d.name(),
					Approach: launch.Approach{SpeedMps: d.number(3, 20), Place: d.count(1, 6)}, BendBeforeM: d.maybe(1, 300), BendSpeedMps: 9, HeadPowerW: 400,
				}))
			}
		}
	}
	return a
}

func (d drawing) launched(l Launched) Launched {
	if d.count(0, 4) == 0 {
		return l
	}
	l.Sprint = &launch.Sprint{
		Best: launch.Best{
			LaunchM: d.number(0, 400), LaunchS: d.number(1, 30), TimeS: d.number(20, 40), AheadS: d.number(-2, 2), LineSpeedMps: d.number(5, 20),
		},
		EarliestM: d.number(150, 500), LatestM: d.number(10, 150), LostM: d.maybe(1, 200), AtOnce: d.yes(),
	}
	for _, earlier := range []float64{100, 50, 25, -25, -50} {
		if d.yes() {
			l.Sprint.Offsets = append(l.Sprint.Offsets, launch.Offset{EarlierM: earlier, CostS: d.number(0, 2)})
		}
	}
	return l
}

func (d drawing) aids() *AidAnswer {
	a := &AidAnswer{At: d.place(), Names: d.named(d.count(1, 3))}
	for range d.count(0, 3) {
		a.Lines = append(a.Lines, d.place())
	}
	for range a.Names {
		one := aid.Aid{DragFactor: rapid.SampledFrom([]float64{0.7, 1}).Draw(d.T, "drag"), WakeFactor: rapid.SampledFrom([]float64{0, 1}).Draw(d.T, "wake"), DurationS: 20}
		if d.yes() {
			one.EarnedM = []float64{d.number(0, d.in.Course.LengthM())}
		}
		a.Aids = append(a.Aids, one)
	}
	for ride, who := range d.named(d.count(0, 3)) {
		c := AidCase{Ride: ride, RiderIndex: ride, SetupIndex: d.count(0, 1), Rider: who, Setup: d.name()}
		for k := range a.Aids {
			c.Found = append(c.Found, d.found(&a.Aids[k]))
			var sprints []*aid.Sprint
			for range a.Lines {
				sprints = append(sprints, rapid.SampledFrom([]*aid.Sprint{nil, {LineM: 900, UseM: 700, GainS: 0.2, SpeedMps: 12, FasterMps: 0.4}}).Draw(d.T, "sprint"))
			}
			c.Sprints = append(c.Sprints, sprints)
		}
		if d.yes() {
			c.Joint = &aid.Joint{GainS: d.number(0.1, 90)}
			for range d.count(0, 6) {
				c.Joint.Uses = append(c.Joint.Uses, aid.Planned{Aid: d.count(0, len(a.Aids)-1), AtM: d.number(0, d.in.Course.LengthM())})
			}
		}
		a.Cases = append(a.Cases, c)
	}
	return a
}

func (d drawing) found(a *aid.Aid) *aid.Found {
	if d.count(0, 6) == 0 {
		return nil
	}
	f := &aid.Found{}
	for range d.count(0, 4) {
		u := aid.Use{AtM: d.number(0, d.in.Course.LengthM()), GainS: d.number(0.01, 20)}
		if a.Denies() {
			u.Follower = &aid.Follower{AddedW: d.number(0, 200), OpensM: d.number(0.1, 20), LostS: d.number(0.01, 2)}
		}
		f.Samples, f.Best = append(f.Samples, u), append(f.Best, aid.Best{Use: u, FromM: u.AtM, ToM: u.AtM + 50})
	}
	slices.SortFunc(f.Best, func(a, b aid.Best) int {
		switch {
		case a.Value() > b.Value():
			return -1
		case a.Value() < b.Value():
			return 1
		}
		return 0
	})
	if !a.Moves() && !a.Denies() {
		f.Best = nil
	}
	return f
}

func (d drawing) margin(n int, p func(i int) float64) tally.Margin {
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case p(a) > p(b):
			return -1
		case p(a) < p(b):
			return 1
		}
		return 0
	})
	m := tally.Margin{Best: -1, Next: -1, Told: d.yes()}
	if n > 0 {
		m.Best = order[0]
	}
	if n > 1 {
		m.Next = order[1]
		for _, i := range order[1:] {
			if !m.Told && p(i) > 0 && d.yes() {
				m.Level = append(m.Level, i)
			}
		}
	}
	return m
}

func (d drawing) race() *RaceAnswer {
	n := d.count(1, 12)
	a := &RaceAnswer{Riders: d.named(n), Named: d.count(0, n), Teams: d.named(d.count(0, 3))}
	r := &a.Result
	r.Runs, r.Key = 40, -1
	for range n {
		r.Entrants = append(r.Entrants, tally.Entrant{Win: d.odds(), DidNotFinish: d.odds(), TimeS: d.mean(600, 20_000)})
	}
	r.Favourite = d.margin(n, func(i int) float64 { return r.Entrants[i].Win.P })
	for range a.Teams {
		r.TeamWins = append(r.TeamWins, d.odds())
	}
	r.FavouriteTeam = d.margin(len(a.Teams), func(i int) float64 { return r.TeamWins[i].P })
	for range d.count(0, 3) {
		a.Lines = append(a.Lines, RaceLine{Place: d.place()})
		at := tally.Line{Front: d.mean(1, float64(n)), WinnerInFront: d.odds()}
		for range n {
			at.Entrants = append(at.Entrants, tally.AtLine{InFront: d.odds(), WinFromFront: d.odds(), WinFromBehind: d.odds()})
		}
		r.Lines = append(r.Lines, at)
	}
	r.Key = d.count(-1, len(a.Lines)-1)
	for i, p := range d.places {
		if p.Of == AtClimb && len(a.Lines) > 0 {
			a.Climbs, r.Climbs = append(a.Climbs, d.places[i]), append(r.Climbs, tally.Gains{Foot: d.count(-1, len(a.Lines)-1)})
		}
	}
	for range d.count(0, 2) {
		c := tally.Contest{}
		for range n {
			c.Entrants = append(c.Entrants, tally.Points{Win: d.odds(), Points: d.mean(0.1, 30)})
		}
		for range a.Teams {
			c.Teams = append(c.Teams, tally.Points{Win: d.odds(), Points: d.mean(0.1, 30)})
		}
		c.Favourite = d.margin(n, func(i int) float64 { return c.Entrants[i].Win.P })
		c.FavouriteTeam = d.margin(len(a.Teams), func(i int) float64 { return c.Teams[i].Win.P })
		r.Contests = append(r.Contests, c)
		asked := ContestAnswer{Name: d.name()}
		for range d.count(1, 3) {
			asked.Places = append(asked.Places, d.place())
		}
		a.Contests = append(a.Contests, asked)
	}
	r.Split.Posts = []tally.AtPost{{Within: d.mean(0.1, float64(n))}}
	if p := d.place(); d.yes() && p.StartM < p.EndM {
		a.Decisive = &p
		r.Split.Decisive = &tally.Decisive{Before: d.mean(0.1, 9), After: d.mean(0.1, 9), Lost: d.mean(0.1, 9), Largest: d.odds()}
	}
	if n > 1 && d.yes() {
		a.Duel = &duel.Answer{
			Heavier: duel.Rider{MassKg: 80}, Lighter: duel.Rider{MassKg: 60, WPerKg: d.number(2, 5)}, GapS: d.number(-90, 90),
			Power: duel.Tipping{Found: d.yes(), Value: d.number(2, 5)},
		}
		a.Lighter = 1
	}
	return a
}

// plainNames hold nothing that a test takes for a number or an oddity.
var plainNames = rapid.SampledFrom([]string{"Nour", "Bram", "Isa", "light", "aero", "Mill Lane", ""})

// TestAnyAnswersReadWell draws answers of every kind on courses of several kinds: whatever
// was asked reads well, keeps to any limit in whole sentences, has a fact for every number,
// none of two values, and reads the same again.
func TestAnyAnswersReadWell(t *testing.T) {
	for _, name := range []string{"hilltop", "criterium", "mountains", "two_points"} {
		in := fixtures()[name]
		in.Rides = nil
		places := placesOf(in)
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				in := in
				in.Answers = drawing{t, in, places, plainNames}.answers()
				in.Units = rapid.SampledFrom([]Units{Metric, Imperial}).Draw(t, "units")
				full := Write(in)
				readsWell(t, name, full)
				oneValueEach(t, full)
				numbersAreFacts(t, full)
				if again := Write(in); again.Markdown != full.Markdown {
					t.Error("the same answers read differently")
				}
				in.MaxChars = rapid.SampledFrom([]int{MinChars, 280, 500, 2000, 4096}).Draw(t, "limit")
				short := Write(in)
				if n := max(utf8.RuneCountInString(short.Markdown), utf8.RuneCountInString(short.Text)); n > in.MaxChars {
					t.Errorf("%d code points in %d", n, in.MaxChars)
				}
				for _, line := range strings.Split(short.Text, "\n") {
					for _, s := range sentences(line) {
						if !strings.Contains(full.Text, s) {
							t.Errorf("%d: %q isn't told in full", in.MaxChars, s)
						}
					}
				}
			})
		})
	}
}

// oneValueEach holds that a fact has one value wherever it is told.
func oneValueEach(t *rapid.T, b *Brief) {
	values := map[string]float64{}
	for _, f := range b.Facts {
		if old, told := values[f.Name]; told && old != f.Value {
			t.Errorf("%s is %v and %v", f.Name, old, f.Value)
		}
		values[f.Name] = f.Value
	}
}

// numbersAreFacts takes the facts out of a text in order: no digit is left before or after.
func numbersAreFacts(t *rapid.T, b *Brief) {
	text := b.Text
	for _, f := range b.Facts {
		before, after, found := strings.Cut(text, f.Text)
		if !found || strings.ContainsAny(before, "0123456789") {
			t.Fatalf("before %+v stands %q", f, before)
		}
		text = after
	}
	if strings.ContainsAny(text, "0123456789") {
		t.Errorf("no fact for the numbers in %q", text)
	}
}

// TestNamesInAnswersStayText holds that nasty names of riders, set-ups, aids, contests and
// teams leave the structure of Markdown as it is with plain ones.
func TestNamesInAnswersStayText(t *testing.T) {
	in := hilltop()
	in.Rides = nil
	places := placesOf(in)
	rapid.Check(t, func(t *rapid.T) {
		answers := drawing{t, in, places, rapid.Just("Plain")}.answers()
		in := in
		in.Answers = answers
		want := structure(t, in)
		rename(answers, nasty().Draw(t, "nasty"))
		if got := structure(t, in); got != want {
			t.Errorf("structure\n%s\nwant\n%s\nof\n%s", got, want, Write(in).Markdown)
		}
	})
}

// rename gives everything in answers one name.
func rename(a *Answers, to string) {
	all := func(names []string) {
		for i := range names {
			names[i] = to
		}
	}
	if s := a.Setups; s != nil {
		all(s.Setups)
		for i := range s.Riders {
			s.Riders[i].Name = to
		}
	}
	if l := a.Launches; l != nil {
		for i := range l.Launches {
			l.Launches[i].Rider, l.Launches[i].Setup = to, to
		}
	}
	if x := a.Aids; x != nil {
		all(x.Names)
		for i := range x.Cases {
			x.Cases[i].Rider, x.Cases[i].Setup = to, to
		}
	}
	if r := a.Race; r != nil {
		all(r.Riders)
		all(r.Teams)
		for i := range r.Contests {
			r.Contests[i].Name = to
		}
	}
}
