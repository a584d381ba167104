package client

import (
	"context"
	"errors"
	"io"
	"iter"
	"net/http"

	"parcours.example/api/contract"
)

// seasonsPath is that of the call for seasons.
const seasonsPath = "/v1/seasons"

// SeasonFile is a round's route file.
type SeasonFile struct {
	// RoundID names the round in the answer, MediaType the file's format, "" for one that the
	// service is to recognise.
	RoundID, MediaType string
	// Open is called when it is the file's turn to be sent, and what it returns closed behind it.
	Open func() (io.ReadCloser, error)
}

// CompareSeason returns a season's rounds and how they compare. A round that can't be answered is
// an item with a problem.
func (c *Client) CompareSeason(ctx context.Context, request *contract.SeasonRequest) (*contract.Season, error) {
	return post[contract.Season](ctx, c, seasonsPath, request, contract.CourseReference{}, nil)
}

// SeasonLines is CompareSeason as it is computed: lines with Progress, one with an Item for each
// round in their order, and at last one with the End. A line with an error is the last; a stream
// that breaks off before its end is ErrReply. What was answered is kept by the service, so that
// asking again goes on from there. Leaving the loop ends the work.
func (c *Client) SeasonLines(ctx context.Context, request *contract.SeasonRequest) iter.Seq2[*contract.SeasonLine, error] {
	return func(yield func(*contract.SeasonLine, error) bool) {
		k, err := jsonCall(seasonsPath, request, nil, linesMediaType)
		if err != nil {
			yield(nil, err)
			return
		}
		told, left := 0, false
		gone := false // whether a course had left the service's memory that can be sent again
		c.season(ctx, k, func(line *contract.SeasonLine, err error) bool {
			if gone = err == nil && line.Item != nil && c.hasLeft(request.Rounds[min(told, len(request.Rounds)):], *line.Item); gone {
				return false
			}
			if err == nil && line.Item != nil {
				told++
			}
			left = !yield(line, err) || err != nil
			return !left
		})
		if gone && !left {
			c.seasonAgain(ctx, k, request.Rounds[told:], told, yield)
		}
	}
}

// hasLeft reports whether an item, the next of those that are still to be told, failed for a
// course that left the service's memory and that this client knows how to make again.
func (c *Client) hasLeft(rounds []contract.SeasonCourse, item contract.SeasonItem) bool {
	if item.Problem == nil || !errors.Is(&Problem{Problem: *item.Problem}, CourseNotCached) || len(rounds) == 0 {
		return false
	}
	id := rounds[0].Course.CourseID
	if id == nil {
		return false
	}
	_, known := c.courses.of(*id)
	return known
}

// seasonAgain makes the courses of the rounds that aren't told yet again, and the season once
// more, of which so many items were told: those are answered at once.
func (c *Client) seasonAgain(ctx context.Context, k call, rounds []contract.SeasonCourse, told int, yield func(*contract.SeasonLine, error) bool) {
	for _, r := range rounds {
		if r.Course.CourseID == nil {
			continue
		}
		made, known := c.courses.of(*r.Course.CourseID)
		if !known {
			continue
		}
		err := c.withCourses(ctx, made.from, func() error { _, err := c.do(ctx, made.call); return err })
		if err != nil {
			yield(nil, err)
			return
		}
	}
	c.season(ctx, k, func(line *contract.SeasonLine, err error) bool {
		if err == nil && line.Item != nil && line.Item.Index < told {
			return true
		}
		return yield(line, err)
	})
}

// SeasonOfFiles is SeasonLines for rounds of files, which are sent one after the other, no faster
// than they are answered; the request says what is asked of them, and has no rounds of its own.
// Files is gone through once: a request that fails isn't sent again by itself. Where a file can't
// be opened or read, that is the error.
func (c *Client) SeasonOfFiles(ctx context.Context, request *contract.SeasonRequest, files iter.Seq[SeasonFile]) iter.Seq2[*contract.SeasonLine, error] {
	return func(yield func(*contract.SeasonLine, error) bool) {
		if len(request.Rounds) > 0 {
			yield(nil, errors.New("client: rounds of files have no others beside them"))
			return
		}
		form, err := newSeasonForm(request, files)
		if err != nil {
			yield(nil, err)
			return
		}
		defer form.close()
		k := call{method: http.MethodPost, path: seasonsPath, accept: linesMediaType, body: form.payload()}
		c.season(ctx, k, func(line *contract.SeasonLine, err error) bool {
			if fault := form.fault(); err != nil && fault != nil && ctx.Err() == nil {
				err = fault
			}
			return yield(line, err)
		})
	}
}

// season sends a season and yields its lines.
func (c *Client) season(ctx context.Context, k call, yield func(*contract.SeasonLine, error) bool) {
	var reply *http.Response
	err := c.send(ctx, k, "", func(got *http.Response) error {
		reply = got
		return nil
	})
	if err != nil {
		yield(nil, err)
		return
	}
	defer func() { _ = reply.Body.Close() }() // without its rest, which may be long in coming
	for line, err := range readSeason(reply.Body) {
		if err != nil && ctx.Err() != nil {
			err = ctx.Err()
		}
		if !yield(line, err) || err != nil {
			return
		}
	}
}

// readSeason reads a stream up to the line that ends it, which is its last unless an error is.
func readSeason(from io.Reader) iter.Seq2[*contract.SeasonLine, error] {
	return readStream(from, func(line *contract.SeasonLine) (told, last bool, err error) {
		if line.Problem != nil {
			return false, true, &Problem{Problem: *line.Problem}
		}
		return true, line.End != nil, nil
	})
}
