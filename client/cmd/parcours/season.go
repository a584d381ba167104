package main

import (
	"cmp"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"parcours.example/api/contract"
	"parcours.example/client"
	"parcours.example/client/routes"
)

// seasonCommand compares the rounds of a season.
type seasonCommand struct {
	Rounds []string `arg:"" optional:"" name:"rounds" help:"Folders of route files, which are taken in the order in which people count, route files, or archives of them (.zip, .tar, .tar.gz). One round is one file."`

	riderFlags     `embed:""`
	setupFlags     `embed:""`
	conditionFlags `embed:""`
	effortFlags    `embed:""`
	requestFlags   `embed:""`

	Table string `group:"look" enum:"rounds,times,riders,suited," default:"" placeholder:"NAME" help:"The table to print: rounds, times (rounds and riders), riders (their totals, and what suits them) or suited (which rounds suit whom, and why). Left out, all but the last; with --csv, rounds."`
}

// Help tells what is done with rounds that fail; kong prints it.
func (c *seasonCommand) Help() string {
	return "A round that can't be answered is a row that says why; the others are answered all the same, and the exit code is 1. " +
		"What was answered is kept by the service, so that asking again after a break goes on from there."
}

// season is what was answered.
type season struct {
	items []contract.SeasonItem
	end   *contract.SeasonEnd
}

// Run asks, shows how far it is, and prints.
func (c *seasonCommand) Run(s *session) error {
	request, err := c.ask(s)
	if err != nil {
		return err
	}
	service, err := s.ask()
	if err != nil {
		return err
	}
	files, err := seasonFiles(c.Rounds)
	if err != nil {
		return err
	}
	if len(files) == 0 && len(request.Rounds) == 0 {
		return wrongUsage("name the folder that holds the rounds' route files")
	}
	if s.look.JSON {
		s.wire.to = s.std.out
	}
	lines := service.SeasonLines(s.ctx, request)
	if len(files) > 0 {
		lines = service.SeasonOfFiles(s.ctx, request, slices.Values(files))
	}
	answer, err := s.follow(lines, len(files))
	if err != nil {
		return err
	}
	if !s.look.JSON {
		err = c.print(s, answer)
	}
	if err == nil && (answer.end.Failed > 0 || len(answer.without()) > 0) {
		err = errTold
	}
	return err
}

// without tells who has no time in which round, and why.
func (a season) without() (rides []string) {
	for _, item := range a.items {
		if item.Result == nil {
			continue
		}
		for _, p := range item.Result.Predictions {
			if p.Problem != nil {
				rides = append(rides, fmt.Sprintf("%s, %s: %s", named(p.Rider, p.RiderIndex, "rider"), roundName(item), problemText(p.Problem)))
			}
		}
	}
	return rides
}

// follow reads the answer to its end, and shows on a terminal how far it is.
func (s *session) follow(lines iter.Seq2[*contract.SeasonLine, error], rounds int) (answer season, err error) {
	shown := s.progress("rounds", int64(max(rounds, 1)))
	defer shown.clear()
	for line, err := range lines {
		switch {
		case err != nil:
			return answer, err
		case line.Progress != nil:
			of := rounds
			if line.Progress.Of != nil {
				of = *line.Progress.Of
			}
			shown.set(int64(line.Progress.Done), int64(max(of, line.Progress.Done)))
		case line.Item != nil:
			answer.items = append(answer.items, *line.Item)
		case line.End != nil:
			answer.end = line.End
		}
	}
	if answer.end == nil {
		return answer, client.ErrReply
	}
	return answer, nil
}

// ask makes the request.
func (c *seasonCommand) ask(s *session) (*contract.SeasonRequest, error) {
	request := &contract.SeasonRequest{}
	if err := c.load(s, request); err != nil {
		return nil, err
	}
	if len(request.Rounds) > 0 && len(c.Rounds) > 0 {
		return nil, wrongUsage("the rounds are files or those of --request, not both")
	}
	riders, bests, err := c.riderFlags.list(s)
	if err != nil {
		return nil, err
	}
	setups, err := c.setupFlags.list(s)
	if err != nil {
		return nil, err
	}
	put(&request.Riders, listOf(riders))
	put(&request.Setups, listOf(setups))
	c.conditionFlags.set(&request.Conditions)
	s.placeFlags()
	effort, err := c.effort(s, bests)
	if err == nil && effort == nil && request.Effort == nil && request.Riders != nil {
		effort, err = c.orOwn(s, *request.Riders, bests)
	}
	put(&request.Effort, effort)
	return request, err
}

// archives are the suffixes of archives of route files.
var archives = []string{".zip", ".tar", ".tar.gz", ".tgz"}

func isArchive(name string) bool {
	name = strings.ToLower(name)
	return slices.ContainsFunc(archives, func(s string) bool { return strings.HasSuffix(name, s) })
}

// seasonFiles are the rounds' files that names lead to.
func seasonFiles(names []string) (files []client.SeasonFile, err error) {
	for _, name := range names {
		info, err := os.Stat(name)
		if err != nil {
			return nil, err
		}
		found := []string{name}
		if info.IsDir() {
			if found, err = filesBelow(name); err != nil {
				return nil, err
			}
			if len(found) == 0 {
				return nil, fmt.Errorf("%s: there is no route file in it", name)
			}
		}
		for _, file := range found {
			files = append(files, seasonFile(name, file))
		}
	}
	return files, nil
}

// seasonFile is a round's file, which is named by its way from the folder that was asked for.
func seasonFile(folder, file string) client.SeasonFile {
	id, err := filepath.Rel(folder, file)
	if err != nil || id == "." {
		id = filepath.Base(file)
	}
	return client.SeasonFile{RoundID: filepath.ToSlash(id), MediaType: archiveType(file), Open: func() (io.ReadCloser, error) { return os.Open(file) }} //nolint:gosec // named by the person who asks
}

// archiveType is the media type of an archive, "" for a route file, which the service tells.
func archiveType(name string) string {
	name = strings.ToLower(name)
	switch {
	case strings.HasSuffix(name, ".zip"):
		return "application/zip"
	case strings.HasSuffix(name, ".tar"):
		return "application/x-tar"
	case isArchive(name):
		return "application/gzip"
	}
	return ""
}

// filesBelow are the route files and archives below a folder, in the order in which people
// count.
func filesBelow(folder string) (files []string, err error) {
	below := os.DirFS(folder)
	names, err := routes.Below(below)
	if err != nil {
		return nil, err
	}
	err = fs.WalkDir(below, ".", func(name string, entry fs.DirEntry, err error) error {
		hidden := name != "." && strings.HasPrefix(entry.Name(), ".")
		switch {
		case err != nil:
			return err
		case hidden && entry.IsDir():
			return fs.SkipDir
		case !hidden && entry.Type().IsRegular() && isArchive(name):
			names = append(names, name)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	slices.SortFunc(names, routes.Compare)
	for _, name := range names {
		files = append(files, filepath.Join(folder, filepath.FromSlash(name)))
	}
	return files, nil
}

// print prints the tables that are asked for.
func (c *seasonCommand) print(s *session, answer season) error {
	names := map[int]string{}
	for _, item := range answer.items {
		names[item.Index] = roundName(item)
	}
	all := []struct {
		name  string
		table printable
	}{
		{"rounds", roundsTable(s.units, answer)},
		{"times", timesTable(answer)},
		{"riders", totalsTable(answer, names)},
		{"suited", suitedTable(answer, names)},
	}
	for i, t := range all {
		asked := c.Table == t.name || c.Table == "" && t.name != "suited" // which is long
		switch {
		case s.look.CSV && t.name == cmp.Or(c.Table, "rounds"):
			return t.table.spreadsheet(s.std.out)
		case s.look.CSV || !asked || t.table.nothing():
			continue
		}
		if i > 0 && c.Table == "" {
			s.gap()
		}
		t.table.people(s.std.out, s.screen)
	}
	if c.Table == "" && !s.look.CSV {
		c.rest(s, answer)
	}
	return nil
}

// mostWithout is how many rides without a time are told of.
const mostWithout = 20

// rest prints what has no table.
func (c *seasonCommand) rest(s *session, answer season) {
	without := answer.without()
	if len(without) > mostWithout {
		without = append(without[:mostWithout], fmt.Sprintf("and %d more, which --json has.", len(without)-mostWithout))
	}
	s.listed("Without a time", without)
	s.gap()
	s.say(fmt.Sprintf("Rounds answered: %d, not answered: %d.", answer.end.Answered, answer.end.Failed))
	s.listed("Cautions", answer.end.Comparison.Cautions)
}

// roundName is what a round is called: its name, else what it came as.
func roundName(item contract.SeasonItem) string {
	switch {
	case text(item.Name) != "":
		return text(item.Name)
	case item.Result != nil && text(item.Result.Name) != "":
		return text(item.Result.Name)
	case text(item.RoundID) != "":
		return text(item.RoundID)
	}
	return fmt.Sprintf("round %d", item.Index+1)
}

// round is a round with its place in the comparison, if it has one.
type round struct {
	contract.SeasonItem
	compared *contract.ComparedRound
}

func (a season) rounds() (all []round) {
	compared := map[int]*contract.ComparedRound{}
	for i, r := range a.end.Comparison.Rounds {
		compared[r.Index] = &a.end.Comparison.Rounds[i]
	}
	for _, item := range a.items {
		all = append(all, round{item, compared[item.Index]})
	}
	return all
}

// of is a figure of a round's result; nil where there is none.
func (r round) of(figure func(*contract.SeasonRound) *float64) *float64 {
	if r.Result == nil {
		return nil
	}
	return figure(r.Result)
}

func roundsTable(u units, answer season) table[round] {
	distance := func(r *contract.SeasonRound) *float64 { return &r.DistanceM }
	ascent := func(r *contract.SeasonRound) *float64 { return r.AscentM }
	share := func(r *contract.SeasonRound) *float64 { return r.ShareBeforeLastClimb }
	percent := func(x float64) string { return rounded(100*x, 0) }
	comparison := func(r round, figure func(*contract.ComparedRound) *float64) *float64 {
		if r.compared == nil {
			return nil
		}
		return figure(r.compared)
	}
	hard := func(c *contract.ComparedRound) *float64 { return c.H2Index }
	rolling := func(c *contract.ComparedRound) *float64 { return c.RollingMPerKm }
	median := func(c *contract.ComparedRound) *float64 { return c.TimeS }
	return table[round]{title: "Rounds", rows: answer.rounds(), columns: []column[round]{
		{head: "no", text: func(r round) string { return fmt.Sprint(r.Index + 1) }, name: "index", value: func(r round) any { return r.Index }},
		{name: "round_id", value: func(r round) any { return r.RoundID }},
		{head: "round", left: true, text: func(r round) string { return roundName(r.SeasonItem) }, name: "name", value: func(r round) any { return roundName(r.SeasonItem) }},
		{head: u.long(), text: func(r round) string { return optional(r.of(distance), u.length) }, name: "distance_m", value: func(r round) any { return r.of(distance) }},
		{head: "ascent " + u.short(), text: func(r round) string { return optional(r.of(ascent), u.height) }, name: "ascent_m", value: func(r round) any { return r.of(ascent) }},
		{head: "h2 index", spare: 3, text: func(r round) string { return optional(comparison(r, hard), to(1)) }, name: "h2_index", value: func(r round) any { return comparison(r, hard) }},
		{head: "before last %", spare: 1, text: func(r round) string { return optional(r.of(share), percent) }, name: "share_before_last_climb", value: func(r round) any { return r.of(share) }},
		{head: "rolling m/km", spare: 2, text: func(r round) string { return optional(comparison(r, rolling), to(1)) }, name: "rolling_m_per_km", value: func(r round) any { return comparison(r, rolling) }},
		{head: "median", text: func(r round) string { return optional(comparison(r, median), clock) }, name: "time_s", value: func(r round) any { return comparison(r, median) }},
		{head: "decided", left: true, wraps: true, text: func(r round) string { return decided(u, r) }, name: "decisive", value: func(r round) any {
			if r.compared == nil {
				return nil
			}
			return r.compared.Decisive
		}},
		{name: "problem", value: func(r round) any { return problemOr(r.Problem) }},
	}}
}

// decided is where a round is decided, or why there is no answer.
func decided(u units, r round) string {
	switch {
	case r.Problem != nil:
		return "not answered: " + problemText(r.Problem)
	case r.Result == nil:
		return ""
	}
	at := r.Result.Decisive
	called := cmp.Or(text(at.Name), text(at.ClimbID), "the "+string(at.Of))
	if at.ToFinishM == 0 {
		return called
	}
	return fmt.Sprintf("%s, %s %s before the line", called, u.length(at.ToFinishM), u.long())
}

// raced is a round's row of times.
type raced struct {
	round
	times map[int]contract.ComparedTime
}

// timesTable has a row for each round and a column for each rider.
func timesTable(answer season) printable {
	riders := answer.end.Comparison.Riders
	var rows []raced
	for _, r := range answer.rounds() {
		row := raced{r, map[int]contract.ComparedTime{}}
		for _, rider := range riders {
			for _, t := range rider.Times {
				if t.Index == r.Index {
					row.times[rider.RiderIndex] = t
				}
			}
		}
		if len(riders) > 0 {
			rows = append(rows, row)
		}
	}
	columns := []column[raced]{
		{head: "no", text: func(r raced) string { return fmt.Sprint(r.Index + 1) }, name: "index", value: func(r raced) any { return r.Index }},
		{head: "round", left: true, text: func(r raced) string { return roundName(r.SeasonItem) }, name: "name", value: func(r raced) any { return roundName(r.SeasonItem) }},
	}
	for i, rider := range riders {
		columns = append(columns, column[raced]{
			head: cut(plain(named(rider.Rider, rider.RiderIndex, "rider")), leastText), spare: len(riders) - i,
			text: func(r raced) string { return optional(r.times[rider.RiderIndex].TimeS, clock) },
			name: named(rider.Rider, rider.RiderIndex, "rider") + " time_s", value: func(r raced) any { return r.times[rider.RiderIndex].TimeS },
		})
	}
	return table[raced]{title: "Times", rows: rows, columns: columns}
}

// totalsTable has the riders' totals, and the round that suits each best and least.
func totalsTable(answer season, names map[int]string) table[contract.ComparedRider] {
	type rider = contract.ComparedRider
	first := func(list []contract.Suited) string {
		if len(list) == 0 {
			return ""
		}
		return fmt.Sprintf("%s %%: %s", signed(list[0].SuitabilityPct, 1), names[list[0].Index])
	}
	return table[rider]{title: "Riders", rows: answer.end.Comparison.Riders, columns: []column[rider]{
		{head: "rider", left: true, text: func(r rider) string { return named(r.Rider, r.RiderIndex, "rider") }, name: "rider", value: func(r rider) any { return r.Rider }},
		{head: "total", text: func(r rider) string { return optional(r.TotalTimeS, clock) }, name: "total_time_s", value: func(r rider) any { return r.TotalTimeS }},
		{head: "rounds", text: func(r rider) string { return counted(r.TotalCount) }, name: "total_count", value: func(r rider) any { return r.TotalCount }},
		{head: "behind", text: func(r rider) string { return optional(r.BehindS, gap) }, name: "behind_s", value: func(r rider) any { return r.BehindS }},
		{head: "suits best", left: true, text: func(r rider) string { return first(r.BestSuited) }},
		{head: "suits least", left: true, text: func(r rider) string { return first(r.LeastSuited) }},
	}}
}

// suit is a round that suits a rider, or doesn't.
type suit struct {
	rider contract.ComparedRider
	contract.Suited
	round string
}

func suitedTable(answer season, names map[int]string) table[suit] {
	var rows []suit
	for _, rider := range answer.end.Comparison.Riders {
		for _, s := range append(slices.Clone(rider.BestSuited), rider.LeastSuited...) {
			rows = append(rows, suit{rider, s, names[s.Index]})
		}
	}
	return table[suit]{title: "What suits whom", rows: rows, columns: []column[suit]{
		{head: "rider", left: true, text: func(r suit) string { return named(r.rider.Rider, r.rider.RiderIndex, "rider") }, name: "rider", value: func(r suit) any { return r.rider.Rider }},
		{head: "round", left: true, text: func(r suit) string { return r.round }, name: "round", value: func(r suit) any { return r.round }},
		{head: "by %", text: func(r suit) string { return signed(r.SuitabilityPct, 2) }, name: "suitability_pct", value: func(r suit) any { return r.SuitabilityPct }},
		{name: "power_to_mass_pct", value: func(r suit) any { return r.Parts.PowerToMassPct }},
		{name: "power_to_drag_area_pct", value: func(r suit) any { return r.Parts.PowerToDragAreaPct }},
		{name: "rest_pct", value: func(r suit) any { return r.Parts.RestPct }},
		{head: "why", left: true, wraps: true, text: func(r suit) string { return r.Why }, name: "why", value: func(r suit) any { return r.Why }},
	}}
}
