package api

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"

	"github.com/gin-gonic/gin"

	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// seasonsRoute is the route of the call whose body may be longer than others and is read while
// it is answered.
const seasonsRoute = "/v1/seasons"

// streamsBody reports whether a request's body is read by its call, a part at a time.
func streamsBody(c *gin.Context) bool {
	return c.FullPath() == seasonsRoute && mediaType(c.Request) != jsonMediaType
}

// CompareSeason implements POST /v1/seasons.
func (s *server) CompareSeason(c *gin.Context, params CompareSeasonParams) {
	mediaType := accepted(c.GetHeader("Accept"), linesMediaType, jsonMediaType)
	if mediaType == "" {
		writeProblem(c, notAcceptable(linesMediaType, jsonMediaType))
		return
	}
	rehearse := func(context.Context) error { _, _, err := s.seasonOfJSON(requestBody(c), params); return err }
	if mediaType == jsonMediaType && !streamsBody(c) && s.later(c, rehearse) {
		return
	}
	leave, err := s.engine.EnterSeason()
	if err != nil {
		s.fail(c, err)
		return
	}
	defer leave()
	asked, next, end, err := s.seasonOf(c, params)
	if err != nil {
		s.failBody(c, err)
		return
	}
	defer end()
	engine.Finish(c.Request.Context()) // each round has a turn of its own
	told := &toldSeason{server: s, c: c, lines: lines{c: c}, asked: asked, whole: mediaType == jsonMediaType}
	err = s.engine.RunSeason(c.Request.Context(), engine.Season{Next: next, Tell: told.item, Progress: told.progress})
	switch {
	case errors.Is(err, errTold):
	case err != nil:
		told.fail(err)
	default:
		told.end()
	}
}

// toldSeason is a season on its way to the caller.
type toldSeason struct {
	*server
	c     *gin.Context
	lines lines
	asked *askedSeason
	// whole is whether it is told as one object, items then holding its rounds.
	whole            bool
	items            []encodedItem
	answered, failed int
	comparison       sideBySide
}

// encodedItem is a SeasonItem whose result is encoded already.
type encodedItem struct {
	Index   int             `json:"index"`
	RoundID *string         `json:"round_id,omitempty"`
	Name    *string         `json:"name,omitempty"`
	Result  json.RawMessage `json:"result,omitempty"`
	Problem *Problem        `json:"problem,omitempty"`
}

// errStopping says that the service takes no more work.
var errStopping = &problem{kind: kindBusy, detail: "The service is stopping; send the season again: what was computed of it is kept.", retryAfterS: 1}

// errTold ends a season whose end is told already.
var errTold = errors.New("the end of the season is told")

// item tells a round.
func (t *toldSeason) item(r engine.RoundTold) error {
	if !t.ready() {
		t.fail(errStopping) // before the body is read no further, which the server takes for the caller's leaving
		return errTold
	}
	item := encodedItem{Index: t.answered + t.failed, RoundID: optional(r.RoundID), Name: optional(r.Name)}
	switch {
	case r.Err != nil:
		if err := t.c.Request.Context().Err(); err != nil {
			return err
		}
		document := t.explain(t.c, r.Err).document("") // which would be another the next time
		item.Problem = &document
		t.failed++
	default:
		item.Result = r.Answer.Body
		if err := t.comparison.add(item); err != nil {
			return err
		}
		t.answered++
	}
	if t.whole {
		t.items = append(t.items, item)
		return nil
	}
	t.lines.send(struct {
		Item encodedItem `json:"item"`
	}{item})
	return t.left()
}

// left ends the season of a caller who doesn't take the lines.
func (t *toldSeason) left() error {
	if t.lines.broken {
		t.c.Set(goneKey, true)
		return errTold
	}
	return nil
}

// progress tells how far the season is.
func (t *toldSeason) progress(done int) {
	if !t.whole {
		t.lines.send(SeasonLine{Progress: &RoundsDone{Done: done, Of: optional(t.asked.of)}})
	} else if report := progressOf(t.c.Request.Context()); report != nil {
		report(done, t.asked.of)
	}
}

// end tells the comparison.
func (t *toldSeason) end() {
	end := SeasonEnd{Answered: t.answered, Failed: t.failed, Skipped: optional(t.asked.skipped), Comparison: t.comparison.done(t.asked.ride)}
	if !t.whole {
		t.lines.send(SeasonLine{End: &end})
		return
	}
	body, err := json.Marshal(struct {
		Items []encodedItem `json:"items"`
		SeasonEnd
	}{t.items, end})
	if err != nil { // it holds nothing that can't be encoded
		t.server.fail(t.c, err)
		return
	}
	t.c.Header("Cache-Control", "no-store")
	t.c.Header("Vary", "Accept")
	t.c.Data(http.StatusOK, jsonMediaType, body)
}

// fail ends a season that can't go on: with a line where lines were sent, else with a problem.
func (t *toldSeason) fail(err error) {
	if !t.lines.started || t.c.Request.Context().Err() != nil {
		t.failBody(t.c, err)
		return
	}
	document := t.explain(t.c, bodyFault(err)).document(requestID(t.c))
	t.lines.send(SeasonLine{Problem: &document})
}

// failBody answers a request that failed, perhaps because its body couldn't be read.
func (s *server) failBody(c *gin.Context, err error) {
	if errors.Is(err, errBrokenOff) {
		c.Set(goneKey, true) // but may have closed one direction only, and read on
	}
	s.fail(c, bodyFault(err))
}

// bodyError is an error of reading a body.
type bodyError struct{ error }

// Unwrap returns what it was.
func (e bodyError) Unwrap() error { return e.error }

// bodyFault is the problem behind an error of reading a body; other errors stay.
func bodyFault(err error) error {
	var reading bodyError
	if errors.As(err, &reading) {
		return bodyProblem(reading.error)
	}
	return err
}

// askedSeason is what is asked of the rounds.
type askedSeason struct {
	// ride lacks its course.
	ride engine.Ride
	// question names what is asked beside the course.
	question string
	// of is how many rounds there are, 0 where that isn't known beforehand; skipped counts what
	// was passed over in archives so far.
	of, skipped int
	server      *server
}

// nextRound returns the next of a season's rounds, and io.EOF behind the last.
type nextRound = func(context.Context) (engine.RoundTask, error)

// seasonOf reads what is asked, and begins to read the rounds. End ends that.
func (s *server) seasonOf(c *gin.Context, params CompareSeasonParams) (asked *askedSeason, next nextRound, end func(), err error) {
	if !streamsBody(c) {
		asked, next, err = s.seasonOfJSON(requestBody(c), params)
		return asked, next, func() {}, err
	}
	return s.seasonOfFiles(c, params)
}

// seasonOfJSON reads a season that is all JSON.
func (s *server) seasonOfJSON(body []byte, params CompareSeasonParams) (*askedSeason, nextRound, error) {
	if params.Smoothing != nil {
		const detail = "smoothing is for files; beside JSON give it in each course's options"
		return nil, nil, &problem{kind: kindInvalidRequest, detail: "The query doesn't fit the contract; see errors.", faults: []Fault{{Parameter: optional("smoothing"), Code: "not-allowed", Detail: detail}}}
	}
	var request SeasonRequest
	if err := decodeJSON(body, &request); err != nil {
		return nil, nil, err
	}
	asked, err := s.askSeason(SeasonQuestion{
		Riders: request.Riders, Setups: request.Setups, Conditions: request.Conditions, Effort: request.Effort,
		Uncertainties: request.Uncertainties, CoveragePct: request.CoveragePct,
	})
	if err != nil {
		return nil, nil, err
	}
	tasks, err := decodeAll("#/rounds", &request.Rounds, asked.referred)
	if err != nil {
		return nil, nil, err
	}
	asked.of = len(tasks)
	next := func(context.Context) (engine.RoundTask, error) {
		if len(tasks) == 0 {
			return engine.RoundTask{}, io.EOF
		}
		task := tasks[0]
		tasks[0], tasks = engine.RoundTask{}, tasks[1:]
		return task, nil
	}
	return asked, next, s.engine.CheckSeason(asked.ride, asked.of)
}

// askSeason reads what is asked of all rounds.
func (s *server) askSeason(q SeasonQuestion) (*askedSeason, error) {
	asked := &askedSeason{server: s, ride: engine.Ride{
		StartM: number(nil), EndM: number(nil),
		Riders: each(valueOr(q.Riders, nil), decodeRider), Setups: each(valueOr(q.Setups, nil), decodeSetup),
		Conditions: decodeConditions(q.Conditions), Doubt: decodeDoubt(q.Uncertainties, q.CoveragePct),
	}}
	var err error
	switch {
	case q.Riders != nil && q.Effort == nil:
		return nil, invalidField("#/effort", "missing", "riders need an effort")
	case q.Riders == nil && q.Effort != nil:
		return nil, invalidField("#/effort", "not-allowed", "an effort without riders asks for nothing; give riders too")
	case q.Effort != nil:
		if asked.ride.Effort, err = decodeEffort("#/effort", *q.Effort); err != nil {
			return nil, err
		}
	}
	asked.question, err = requestKey("season-round", q)
	return asked, err
}

// referred is the task of a round that is referred to, at a pointer.
func (a *askedSeason) referred(at string, round SeasonCourse) (engine.RoundTask, error) {
	source, err := decodeSource(at+"/course", round.Course)
	if err != nil {
		return engine.RoundTask{}, err
	}
	course, err := json.Marshal(round.Course)
	task := a.task(source, "course", course)
	if source.ID != "" {
		task.Question.CourseIDs = []string{source.ID}
	}
	task.RoundID, task.Name = valueOr(round.RoundID, ""), valueOr(round.Name, "")
	return task, err
}

// task is that of a round on a course which comes in some form.
func (a *askedSeason) task(source engine.CourseSource, form string, course []byte) engine.RoundTask {
	key := a.question + "/" + form + "/" + digestKey(course)
	ride := a.ride
	ride.Course = source
	return engine.RoundTask{
		Question: engine.Question{ID: answerID(key, jsonMediaType)},
		Work: made(func(ctx context.Context) (result, error) {
			round, err := a.server.engine.Round(ctx, ride)
			if err != nil {
				return result{}, err
			}
			return jsonResult(ctx, encodeRound(round), key)
		}),
	}
}
