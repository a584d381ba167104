package api

import (
	"context"
	"errors"
	"log/slog"
	"math"
	"math/rand/v2"
	"time"

	"github.com/gin-gonic/gin"

	"parcours.example/analysis/calibrate"
	"parcours.example/analysis/capability"
	"parcours.example/analysis/course"
	"parcours.example/analysis/recording"
	"parcours.example/analysis/ridden"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/track"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
	"parcours.example/service/jobs"
)

// fail answers a request with the problem behind an error of the engine. A caller
// who has left gets nothing.
func (s *server) fail(c *gin.Context, err error) {
	if c.Request.Context().Err() != nil {
		c.Set(goneKey, true)
		c.Abort()
		return
	}
	writeProblem(c, s.explain(c, err))
}

// explain returns the problem behind an error of the engine, and logs what is our fault.
func (s *server) explain(c *gin.Context, err error) *problem {
	p := problemOf(err)
	var panicked *engine.PanicError
	if errors.As(err, &panicked) {
		s.meter.panics.Inc()
		s.logger.Error("panic", slog.Any("value", panicked.Value), slog.String("request_id", requestID(c)), slog.String("stack", string(panicked.Stack)))
	} else if p.kind.status >= 500 && p.kind.status != kindBusy.status {
		s.logger.Error("internal", slog.String("error", err.Error()), slog.String("request_id", requestID(c)))
	}
	return p
}

// problemOf maps every error of the engine to a problem.
func problemOf(err error) *problem {
	var (
		file     *track.Error
		made     *course.Error
		rode     *ride.Error
		asked    *engine.Error
		fitted   *capability.Error
		busy     *engine.BusyError
		placed   *engine.PlacedError
		full     *jobs.FullError
		own      *problem
		recorded *recording.Error
		laid     *ridden.Error
		learnt   *calibrate.Error
	)
	switch {
	case errors.As(err, &own):
		return own
	case errors.As(err, &placed):
		return placedProblem(placed)
	case errors.Is(err, engine.ErrNotCached):
		return &problem{kind: kindCourseNotCached, detail: "The course isn't cached (any more); send its file again."}
	case errors.As(err, &busy):
		return &problem{kind: kindBusy, detail: "As much work is under way as is taken; try again after Retry-After seconds.", retryAfterS: jittered(busy.RetryAfter)}
	case errors.As(err, &full):
		return &problem{kind: kindBusy, detail: "As many jobs wait as may; try again after Retry-After seconds, or without Prefer.", retryAfterS: jittered(full.RetryAfter)}
	case errors.Is(err, jobs.ErrUnknown):
		return &problem{kind: kindJobNotFound, detail: "There is no such job, or not any more."}
	case errors.Is(err, jobs.ErrAway):
		return &problem{kind: kindJobsAway, detail: "What keeps the jobs doesn't answer; try again after Retry-After seconds, or without Prefer.", retryAfterS: jittered(awayAgain)}
	case errors.As(err, &file):
		return fileProblem(file)
	case errors.As(err, &made):
		return courseProblem(made)
	case errors.As(err, &rode):
		return rideProblem(rode)
	case errors.As(err, &asked):
		return requestProblem(asked)
	case errors.As(err, &fitted):
		return capabilityProblem(fitted)
	case errors.As(err, &recorded):
		return recordingProblem(kindNotARecording, recorded.Code, recorded.Detail)
	case errors.As(err, &laid) && laid.Code != ridden.CodeTooShort:
		return recordingProblem(kindNotOnCourse, laid.Code, laid.Detail)
	case errors.As(err, &laid):
		return recordingProblem(kindNotARecording, laid.Code, laid.Detail)
	case errors.As(err, &learnt):
		return recordingProblem(kindTooLittleRiding, learnt.Code, learnt.Detail)
	case errors.Is(err, context.DeadlineExceeded):
		return &problem{kind: kindBusy, detail: "The work took longer than it may; try again later.", retryAfterS: 5}
	}
	return &problem{kind: kindInternal, detail: "Something went wrong while answering; the request_id is in our log."}
}

// awayAgain is when to ask again for what keeps the jobs.
const awayAgain = 2 * time.Second

// jittered returns a wait in whole seconds, up to twice as long, so that those who
// were refused together don't come back together.
func jittered(wait time.Duration) int {
	s := max(1, int(math.Ceil(wait.Seconds())))
	return s + rand.IntN(s+1)
}

// placedProblem is the problem of a fault with its place in the request.
func placedProblem(e *engine.PlacedError) *problem {
	p := problemOf(e.Err)
	if len(p.faults) == 0 {
		p.faults = []Fault{{Code: p.kind.name, Detail: p.detail}}
	}
	for i := range p.faults {
		p.faults[i].Pointer, p.faults[i].Parameter = optional(e.Pointer), optional(e.Parameter)
	}
	return p
}

// courseKinds gives the kind of problem for each reason of package course.
var courseKinds = map[string]problemKind{
	course.CodeTooShort: kindTooShort, course.CodeTooLong: kindTooLong, course.CodeTooManyNodes: kindTooManyNodes, course.CodeAxisNotIncreasing: kindAxisNotIncreasing,
	course.CodeLapsDoNotClose: kindLapsDoNotClose, course.CodeCutOutside: kindCutOutside, course.CodeMarkOutside: kindMarkOutside,
	course.CodePartsDoNotJoin: kindPartsDoNotJoin,
}

// courseProblem is the problem of an input that can't become a course.
func courseProblem(e *course.Error) *problem {
	kind, known := courseKinds[e.Code]
	if !known {
		kind = kindNotComputable
	}
	p := &problem{kind: kind, detail: e.Detail, faults: []Fault{{Code: e.Code, Detail: e.Detail}}}
	if e.Limit != 0 {
		p.limit, p.actual = finite(e.Limit, decimalsM), finite(e.Actual, decimalsM)
	}
	return p
}

// fileKinds gives the kind of problem for each reason of package track.
var fileKinds = map[string]problemKind{
	track.CodeNotTheFormat: kindNotTheFormat, track.CodeMalformed: kindMalformedFile, track.CodeOutOfRange: kindValueOutOfRange,
	track.CodeNoLine: kindNoLine, track.CodeNoSuchTrack: kindNoSuchTrack, track.CodeTooMany: kindTooMany,
}

// fileProblem is the problem of a file that can't be read.
func fileProblem(e *track.Error) *problem {
	kind, known := fileKinds[e.Code]
	if !known {
		kind = kindMalformedFile
	}
	p := &problem{kind: kind, detail: clip(e.Error()), line: e.Line, point: e.Point}
	if e.Code == track.CodeTooMany {
		limit, actual := float64(e.Limit), float64(e.Actual)
		p.limit, p.actual = &limit, &actual
	}
	return p
}

// rideProblem is the problem of a ride that can't be ridden.
func rideProblem(e *ride.Error) *problem {
	kind := kindNotComputable
	if e.Code == ride.CodeCannotClimb {
		kind = kindCannotClimb
	}
	p := &problem{kind: kind, detail: e.Detail, faults: []Fault{{Code: e.Code, Detail: e.Detail}}}
	if kind.name == kindCannotClimb.name {
		p.atM = finite(e.AtM, decimalsM)
	}
	return p
}

// recordingProblem is the problem of a recording that nothing can be made of.
func recordingProblem(kind problemKind, code, detail string) *problem {
	return &problem{kind: kind, detail: detail, faults: []Fault{{Code: code, Detail: detail}}}
}

// capabilityProblem is the problem of efforts that no model fits, with the reason of each
// kind of fit.
func capabilityProblem(e *capability.Error) *problem {
	p := &problem{kind: kindCapabilityUndetermined, detail: e.Detail}
	for _, a := range e.Absent {
		p.faults = append(p.faults, Fault{Pointer: optional("#/efforts"), Code: a.Code, Detail: string(a.Kind) + ": " + a.Detail})
	}
	return p
}

// requestProblem is the problem of a request that fits the contract but can't be
// met.
func requestProblem(e *engine.Error) *problem {
	kind := kindNotComputable
	switch e.Code {
	case engine.CodeInvalid:
		kind = kindInvalidRequest
	case engine.CodeTooMany:
		kind = kindTooMany
	case engine.CodeTooLarge:
		kind = kindTooLarge
	case engine.CodeUnsupportedMediaType:
		kind = kindUnsupportedMediaType
	}
	p := &problem{kind: kind, detail: e.Detail, faults: []Fault{{
		Code: e.Code, Detail: e.Detail, Pointer: optional(e.Pointer), Parameter: optional(e.Parameter),
	}}}
	switch e.Code {
	case engine.CodeTooMany:
		p.limit, p.actual = &e.Limit, &e.Actual
	case engine.CodeTooLarge:
		p.limit = &e.Limit
	}
	return p
}
