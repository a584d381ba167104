package api

import (
	"bytes"
	"encoding/json"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
	"parcours.example/service/jobs"
)

// jobsRoute is what the addresses of jobs begin with.
const jobsRoute = "/v1/jobs/"

// jobAgainS is when to ask again for a job that isn't over, in seconds.
const jobAgainS = 1

// LookAtJob implements GET /v1/jobs/{job_id}.
func (s *server) LookAtJob(c *gin.Context, id JobIDParameter) {
	wait := waitOf(preferences(c.Request.Header.Values(preferField)))
	if wait > 0 {
		c.Header(appliedField, preferWait+"="+strconv.Itoa(int(wait.Seconds())))
	}
	job, err := s.awaitJob(c, id, wait)
	if err != nil {
		s.fail(c, err)
		return
	}
	s.replyJob(c, http.StatusOK, job)
}

// awaitSlice is how long a caller waits before it is looked whether the service is stopping.
const awaitSlice = time.Second

// awaitJob waits for a caller's job to be over. Where other replicas can tell of it as well,
// those who wait leave a service that is stopping.
func (s *server) awaitJob(c *gin.Context, id string, wait time.Duration) (jobs.Job, error) {
	if s.jobs == nil {
		return jobs.Job{}, jobs.ErrUnknown
	}
	for {
		slice := min(wait, awaitSlice)
		job, err := s.jobs.Look(c.Request.Context(), id, c.GetString(clientKey), slice)
		wait -= slice
		if err != nil || job.State.Over() || wait <= 0 || !s.jobs.Near() && !s.ready() {
			return job, err
		}
	}
}

// CancelJob implements DELETE /v1/jobs/{job_id}.
func (s *server) CancelJob(c *gin.Context, id JobIDParameter) {
	err := jobs.ErrUnknown
	if s.jobs != nil {
		err = s.jobs.Cancel(c.Request.Context(), id, c.GetString(clientKey))
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	c.Header("Cache-Control", "no-store")
	c.Status(http.StatusNoContent)
}

// replyJob tells of a job.
func (s *server) replyJob(c *gin.Context, status int, job jobs.Job) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false) // the result stays as the call itself gives it
	err := enc.Encode(s.encodeJob(c, job))
	body, coding := b.Bytes(), codingOf(c, jsonMediaType, b.Len())
	if err == nil {
		body, err = compress(coding, body)
	}
	if err != nil { // what is kept was JSON
		s.fail(c, err)
		return
	}
	h := c.Writer.Header()
	h.Set("Cache-Control", "no-store")
	h.Add("Vary", "Accept-Encoding, "+preferField)
	if coding != "" {
		h.Set("Content-Encoding", coding)
	}
	if !job.State.Over() {
		h.Set("Retry-After", strconv.Itoa(jobAgainS))
	}
	engine.Finish(c.Request.Context())
	c.Data(status, jsonMediaType, body)
}

// encodeJob writes a job as the contract has it.
func (s *server) encodeJob(c *gin.Context, job jobs.Job) *Job {
	out := &Job{JobID: job.ID, State: JobState(job.State)}
	if job.Of > 0 {
		out.Progress = &JobProgress{Done: job.Done, Of: job.Of}
	}
	if !job.Expires.IsZero() {
		expires := job.Expires.UTC().Truncate(time.Second)
		out.Expires = &expires
	}
	switch job.State {
	case jobs.Done:
		result := json.RawMessage(job.Answer)
		out.Result = &result
	case jobs.Failed:
		out.Problem = new(Problem)
		if json.Unmarshal(job.Answer, out.Problem) != nil {
			*out.Problem = workEnded().document(requestID(c))
		}
	}
	return out
}

// workEnded is the problem of a job whose work ended without an answer.
func workEnded() *problem {
	return &problem{kind: kindInternal, detail: "The work on this job took longer than it may, or ended the process that did it, each time that it was tried."}
}
