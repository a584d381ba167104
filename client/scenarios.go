package client

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"net/http"

	"parcours.example/api/contract"
)

// mostLineBytes bounds a line of a stream.
const mostLineBytes = 64 << 20

// RunScenario races a field many times and returns how the race is likely to go.
func (c *Client) RunScenario(ctx context.Context, request *contract.ScenarioRequest) (*contract.Scenario, error) {
	return post[contract.Scenario](ctx, c, "/v1/scenarios", request, request.Course, nil)
}

// ScenarioLines is RunScenario that tells how far it is: lines with Progress, then one with the
// Result. A line with an error is the last; a stream that breaks off before its end is ErrReply.
// Leaving the loop ends the work.
func (c *Client) ScenarioLines(ctx context.Context, request *contract.ScenarioRequest) iter.Seq2[*contract.ScenarioLine, error] {
	return func(yield func(*contract.ScenarioLine, error) bool) {
		var reply *http.Response
		k, err := jsonCall("/v1/scenarios", request, nil, linesMediaType)
		if err == nil {
			err = c.withCourses(ctx, courseIn(request.Course), func() error {
				return c.send(ctx, k, "", func(got *http.Response) error {
					reply = got
					return nil
				})
			})
		}
		if err != nil {
			yield(nil, err)
			return
		}
		defer func() { _ = reply.Body.Close() }() // without its rest, which may be long in coming
		for line, err := range readLines(reply.Body) {
			if err != nil && ctx.Err() != nil {
				err = ctx.Err()
			}
			if !yield(line, err) || err != nil {
				return
			}
		}
	}
}

// readLines reads a stream up to the line that ends it. Its error is the last that it gives.
func readLines(from io.Reader) iter.Seq2[*contract.ScenarioLine, error] {
	return func(yield func(*contract.ScenarioLine, error) bool) {
		lines := bufio.NewScanner(from)
		lines.Buffer(nil, mostLineBytes)
		told := false
		for lines.Scan() {
			var line contract.ScenarioLine
			if err := json.Unmarshal(lines.Bytes(), &line); err != nil {
				yield(nil, fmt.Errorf("%w: %w", ErrReply, err))
				return
			}
			switch {
			case line.Problem != nil:
				yield(nil, &Problem{Problem: *line.Problem})
				return
			case line.End != nil:
				if !told {
					yield(nil, fmt.Errorf("%w: it ends without a result", ErrReply))
				}
				return
			}
			told = told || line.Result != nil
			if !yield(&line, nil) {
				return
			}
		}
		yield(nil, brokenOff(orEOF(lines.Err())))
	}
}

// orEOF is the error of a stream that broke off, which may have done so without one.
func orEOF(err error) error {
	if err == nil || errors.Is(err, io.EOF) {
		return io.ErrUnexpectedEOF
	}
	return err
}
