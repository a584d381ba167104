package client_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"testing"
	"testing/synctest"
	"time"

	"parcours.example/api/contract"
	"parcours.example/client"
	"parcours.example/client/clienttest"
)

const jobID = "Q3ZJ7K2M5XWVTBN4RAFHDYC6LE"

// told is a reply that tells of the job.
func told(state contract.JobState, progress *contract.JobProgress) clienttest.Reply {
	return clienttest.JSON(contract.Job{JobID: jobID, State: state, Progress: progress})
}

// aBrief is a small document that a call may come to.
var aBrief = contract.Brief{Title: "A course", CourseID: "00000000000000000000000000000000", EngineVersion: "5", Sections: []contract.BriefSection{}, Facts: []contract.Fact{}, Cautions: []string{}}

func startBrief(t *testing.T, replies ...clienttest.Reply) (*clienttest.Server, *client.Job[contract.Brief]) {
	t.Helper()
	server := clienttest.New(t, replies...)
	c, err := client.New(server.URL)
	if err != nil {
		t.Fatal(err)
	}
	job, err := c.StartBrief(t.Context(), &contract.BriefRequest{Course: client.CourseOfProfile([]float64{0, 1000}, nil, nil)})
	if err != nil {
		t.Fatal(err)
	}
	return server, job
}

func TestJobIsWaitedFor(t *testing.T) {
	server, job := startBrief(t, clienttest.Accepted(jobID), told(contract.Waiting, nil), told(contract.Running, &contract.JobProgress{Done: 1, Of: 2}),
		clienttest.Problem("jobs-away", http.StatusServiceUnavailable, 0), told(contract.Running, &contract.JobProgress{Done: 1, Of: 2}), clienttest.JobDone(jobID, aBrief))
	if job.ID() != jobID {
		t.Errorf("id %q", job.ID())
	}
	var far []int
	got, err := job.Wait(t.Context(), func(done, of int) { far = append(far, done, of) })
	if err != nil || got.Title != aBrief.Title || len(far) != 2 || far[0] != 1 || far[1] != 2 {
		t.Errorf("%+v, %v, progress %v", got, err, far)
	}
	asked := server.Requests()
	if asked[0].Header.Get("Prefer") != "respond-async" || asked[1].Header.Get("Prefer") != "wait=1" || asked[1].URL.Path != "/v1/jobs/"+jobID {
		t.Errorf("asked %v, %v", asked[0].Header, asked[1].Header)
	}
}

// What is known is answered at once, and nothing is waited for.
func TestJobThatIsNone(t *testing.T) {
	server, job := startBrief(t, clienttest.JSON(aBrief))
	got, err := job.Wait(t.Context(), nil)
	if err != nil || got.Title != aBrief.Title || job.ID() != "" || job.Cancel(t.Context()) != nil || len(server.Requests()) != 1 {
		t.Errorf("%+v, %v", got, err)
	}
	if _, err := job.Look(t.Context()); err == nil {
		t.Error("a job that is none is looked at")
	}
}

func TestJobsThatComeToNothing(t *testing.T) {
	failed := clienttest.JSON(contract.Job{JobID: jobID, State: contract.Failed, Problem: &contract.Problem{Type: "/problems/cannot-climb", Title: "x", Status: 422}})
	for _, tc := range []struct {
		reply clienttest.Reply
		want  error
	}{
		{failed, client.CannotClimb},
		{told(contract.Cancelled, nil), client.ErrJobCancelled},
		{clienttest.Problem("job-not-found", http.StatusNotFound, 0), client.JobNotFound},
		{told(contract.Done, nil), client.ErrReply},
	} {
		_, job := startBrief(t, clienttest.Accepted(jobID), tc.reply)
		if _, err := job.Wait(t.Context(), nil); !errors.Is(err, tc.want) {
			t.Errorf("%v, want %v", err, tc.want)
		}
	}
}

func TestJobIsCancelled(t *testing.T) {
	server := clienttest.New(t, clienttest.Reply{Status: http.StatusNoContent})
	c, err := client.New(server.URL)
	if err != nil {
		t.Fatal(err)
	}
	if err := client.JobByID[contract.Brief](c, jobID).Cancel(t.Context()); err != nil {
		t.Error(err)
	}
	if r := server.Requests()[0]; r.Method != http.MethodDelete || r.URL.Path != "/v1/jobs/"+jobID {
		t.Errorf("%s %s", r.Method, r.URL)
	}
}

// instant answers without a network that a job goes on, and when to look again.
type instant struct{ looks int }

func (i *instant) RoundTrip(r *http.Request) (*http.Response, error) {
	i.looks++
	return &http.Response{
		StatusCode: http.StatusOK, Request: r, Body: io.NopCloser(bytes.NewReader(told(contract.Running, nil).Body)),
		Header: http.Header{"Content-Type": {"application/json"}, "Retry-After": {"7"}},
	}, nil
}

// A service that keeps nothing back is looked at as often as it says, and not beyond the context.
func TestJobIsLookedAtAsAsked(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		answers := &instant{}
		c, err := client.New("http://courses.example", client.WithHTTPClient(&http.Client{Transport: answers}))
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		defer cancel()
		if _, err := client.JobByID[contract.Brief](c, jobID).Wait(ctx, nil); !errors.Is(err, context.DeadlineExceeded) {
			t.Error(err)
		}
		if answers.looks != 9 {
			t.Errorf("looked %d times in a minute", answers.looks)
		}
	})
}
