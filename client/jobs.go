package client

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"time"

	"parcours.example/api/contract"
)

// Job is a call that the service answers later: what it comes to is fetched with Wait, for as long
// as the service keeps it. A job can be found again by its ID, also by another program.
type Job[Answer any] struct {
	client *Client
	id     string
	// answer is there where the service knew it at once.
	answer *Answer
}

// JobByID returns a job that was started before, of a call that answers so.
func JobByID[Answer any](c *Client, id string) *Job[Answer] { return &Job[Answer]{client: c, id: id} }

// ID names the job; it is empty where the call was answered at once, and nothing is to be waited
// for.
func (j *Job[Answer]) ID() string { return j.id }

// StartPrediction is Predict that is answered later.
func (c *Client) StartPrediction(ctx context.Context, request *contract.PredictionRequest, include ...string) (*Job[contract.Predictions], error) {
	return start[contract.Predictions](ctx, c, "/v1/predictions", request, request.Course, include)
}

// StartPlan is Plan that is answered later.
func (c *Client) StartPlan(ctx context.Context, request *contract.PlanRequest, include ...string) (*Job[contract.Plans], error) {
	return start[contract.Plans](ctx, c, "/v1/plans", request, request.Course, include)
}

// StartComparison is Compare that is answered later.
func (c *Client) StartComparison(ctx context.Context, request *contract.ComparisonRequest) (*Job[contract.Comparisons], error) {
	return start[contract.Comparisons](ctx, c, "/v1/comparisons", request, request.Course, nil)
}

// StartLaunch is Launch that is answered later.
func (c *Client) StartLaunch(ctx context.Context, request *contract.LaunchRequest) (*Job[contract.Launches], error) {
	return start[contract.Launches](ctx, c, "/v1/launches", request, request.Course, nil)
}

// StartAids is PlaceAids that is answered later.
func (c *Client) StartAids(ctx context.Context, request *contract.AidsRequest) (*Job[contract.Aids], error) {
	return start[contract.Aids](ctx, c, "/v1/aids", request, request.Course, nil)
}

// StartScenario is RunScenario that is answered later. Its job tells how many runs are done.
func (c *Client) StartScenario(ctx context.Context, request *contract.ScenarioRequest) (*Job[contract.Scenario], error) {
	return start[contract.Scenario](ctx, c, "/v1/scenarios", request, request.Course, nil)
}

// StartBrief is Brief that is answered later.
func (c *Client) StartBrief(ctx context.Context, request *contract.BriefRequest) (*Job[contract.Brief], error) {
	return start[contract.Brief](ctx, c, "/v1/briefs", request, request.Course, nil)
}

// StartSeason is CompareSeason that is answered later. Its job tells how many rounds are done.
func (c *Client) StartSeason(ctx context.Context, request *contract.SeasonRequest) (*Job[contract.Season], error) {
	return start[contract.Season](ctx, c, seasonsPath, request, contract.CourseReference{}, nil)
}

// start sends a request about a course that is answered later.
func start[Answer any](ctx context.Context, c *Client, path string, request any, course contract.CourseReference, include []string) (*Job[Answer], error) {
	k, err := jsonCall(path, request, includes(include), jsonMediaType)
	if err != nil {
		return nil, err
	}
	k.later = true
	j := &Job[Answer]{client: c}
	err = c.withCourses(ctx, courseIn(course), func() error {
		return c.send(ctx, k, "", j.read)
	})
	if err != nil {
		return nil, err
	}
	return j, nil
}

// read reads the answer to the call: its job, or the answer itself.
func (j *Job[Answer]) read(reply *http.Response) error {
	defer closeBody(reply)
	body, err := readAll(reply.Body, mostReplyBytes)
	if err != nil {
		return brokenOff(err)
	}
	if reply.StatusCode == http.StatusOK {
		j.answer, err = decoded[Answer](body)
		return err
	}
	told, err := decoded[contract.Job](body)
	if err != nil {
		return err
	}
	j.id = told.JobID
	return nil
}

// errNoJob is what is asked of a job that the call didn't become.
var errNoJob = errors.New("client: the call was answered at once; there is no job")

// path is the job's address.
func (j *Job[Answer]) path() string { return "/v1/jobs/" + j.id }

// Look returns how far the job is.
func (j *Job[Answer]) Look(ctx context.Context) (*contract.Job, error) {
	told, _, err := j.look(ctx, 0)
	return told, err
}

// look is Look that waits for the end of the job on the service's side. It returns when to look
// again, too, where the service says so.
func (j *Job[Answer]) look(ctx context.Context, wait time.Duration) (told *contract.Job, again time.Duration, err error) {
	if j.id == "" {
		return nil, 0, errNoJob
	}
	k := call{method: http.MethodGet, path: j.path(), accept: jsonMediaType, wait: wait}
	err = j.client.send(ctx, k, "", func(reply *http.Response) error {
		defer closeBody(reply)
		again = retryAfter(reply.Header.Get("Retry-After"), time.Now())
		body, err := readAll(reply.Body, mostReplyBytes)
		if err != nil {
			return brokenOff(err)
		}
		told, err = decoded[contract.Job](body)
		return err
	})
	return told, again, err
}

// Cancel ends the job, or makes the service forget what it came to. It may be called again.
func (j *Job[Answer]) Cancel(ctx context.Context) error {
	if j.id == "" {
		return nil
	}
	_, err := j.client.do(ctx, call{method: http.MethodDelete, path: j.path(), accept: jsonMediaType})
	return err
}

// ErrJobCancelled says that a job was cancelled, by whoever may.
var ErrJobCancelled = errors.New("client: the job was cancelled")

// Waits of Wait: how long the service may keep an answer back, and the shortest and longest pause
// between two looks where it doesn't.
const (
	heldBack             = 20 * time.Second
	firstPause, maxPause = 200 * time.Millisecond, 5 * time.Second
)

// Wait returns what the job comes to, once it does. Progress is told how far the work is whenever
// that has changed; nil for nobody. It fails with a *Problem where the call itself would have, with
// ErrJobCancelled, or with the context's error, which leaves the job as it is.
func (j *Job[Answer]) Wait(ctx context.Context, progress func(done, of int)) (*Answer, error) {
	if j.answer != nil {
		return j.answer, nil
	}
	wait := heldBack
	if progress != nil {
		wait = time.Second // for news
	}
	var last contract.JobProgress
	for pause := firstPause; ; pause = min(2*pause, maxPause) {
		began := time.Now()
		told, again, err := j.look(ctx, wait)
		if err != nil {
			return nil, err
		}
		if p := told.Progress; progress != nil && p != nil && *p != last {
			last = *p
			progress(p.Done, p.Of)
		}
		if told.State != contract.Waiting && told.State != contract.Running {
			return ended[Answer](told)
		}
		if left := min(max(pause, again), mostWait) - time.Since(began); left > 0 { // it wasn't kept back so long
			if err := sleep(ctx, left); err != nil {
				return nil, err
			}
		}
	}
}

// ended is what a job came to.
func ended[Answer any](told *contract.Job) (*Answer, error) {
	switch {
	case told.State == contract.Cancelled:
		return nil, ErrJobCancelled
	case told.Problem != nil:
		return nil, &Problem{Problem: *told.Problem}
	case told.Result == nil:
		return nil, fmt.Errorf("%w: a job is over without a result", ErrReply)
	}
	return decoded[Answer](*told.Result)
}
