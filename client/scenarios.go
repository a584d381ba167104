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
	result := false
	return readStream(from, func(line *contract.ScenarioLine) (told, last bool, err error) {
		switch {
		case line.Problem != nil:
			return false, true, &Problem{Problem: *line.Problem}
		case line.End != nil && !result:
			return false, true, fmt.Errorf("%w: it ends without a result", ErrReply)
		}
		result = result || line.Result != nil
		return line.End == nil, line.End != nil, nil
	})
}

// readStream reads lines up to the last, of which judge says whether it is to be told, whether it
// is the last, and what is wrong with it.
func readStream[Line any](from io.Reader, judge func(*Line) (told, last bool, err error)) iter.Seq2[*Line, error] {
	return func(yield func(*Line, error) bool) {
		lines := bufio.NewScanner(from)
		lines.Buffer(nil, mostLineBytes)
		for lines.Scan() {
			var line Line
			if err := json.Unmarshal(lines.Bytes(), &line); err != nil {
				yield(nil, fmt.Errorf("%w: %w", ErrReply, err))
				return
			}
			told, last, err := judge(&line)
			if err != nil {
				yield(nil, err)
				return
			}
			if told && !yield(&line, nil) || last {
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
