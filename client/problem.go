package client

import (
	"fmt"
	"strings"
	"time"

	"parcours.example/api/contract"
)

// Problem is what the service answered instead of a result. Branch on its kind, never on its
// words: errors.Is(err, client.CannotClimb).
type Problem struct {
	contract.Problem
	// RetryAfter is how long the service asks to wait, 0 where it doesn't say.
	RetryAfter time.Duration
}

// Error implements error.
func (p *Problem) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s (%d)", p.Title, p.Status)
	if p.Detail != nil {
		b.WriteString(": " + *p.Detail)
	}
	if p.Errors != nil {
		for _, f := range *p.Errors {
			if place := text(f.Pointer) + text(f.Parameter); place != "" {
				fmt.Fprintf(&b, "; %s: %s", place, f.Detail)
			}
		}
	}
	if p.RequestID != nil {
		b.WriteString(" [request " + *p.RequestID + "]")
	}
	return b.String()
}

// text returns what p points to, "" for nothing.
func text(p *string) string {
	if p == nil {
		return ""
	}
	return *p
}

// Kind returns the last part of the problem's type.
func (p *Problem) Kind() Kind {
	return Kind(p.Type[strings.LastIndexByte(p.Type, '/')+1:])
}

// Is reports whether target is the problem's kind.
func (p *Problem) Is(target error) bool {
	k, ok := target.(Kind) //nolint:errorlint // a kind stands for itself
	return ok && k == p.Kind()
}

// Kind is a kind of problem, for errors.Is. The service's page /problems/KIND says how to
// correct a request.
type Kind string

// Error implements error.
func (k Kind) Error() string { return string(k) }

// The kinds of problems that the service knows. There may be more in a later version.
const (
	AxisNotIncreasing      Kind = "axis-not-increasing"
	Busy                   Kind = "busy"
	CannotClimb            Kind = "cannot-climb"
	CapabilityUndetermined Kind = "capability-undetermined"
	NotARecording          Kind = "not-a-recording"
	NotOnCourse            Kind = "not-on-course"
	TooLittleRiding        Kind = "too-little-riding"
	CourseNotCached        Kind = "course-not-cached"
	CutOutside             Kind = "cut-outside"
	Internal               Kind = "internal"
	InvalidRequest         Kind = "invalid-request"
	JobNotFound            Kind = "job-not-found"
	JobsAway               Kind = "jobs-away"
	KeyRequired            Kind = "key-required"
	LapsDoNotClose         Kind = "laps-do-not-close"
	MalformedFile          Kind = "malformed-file"
	MalformedRequest       Kind = "malformed-request"
	MarkOutside            Kind = "mark-outside"
	MethodNotAllowed       Kind = "method-not-allowed"
	NoLine                 Kind = "no-line"
	NoSuchTrack            Kind = "no-such-track"
	NotAcceptable          Kind = "not-acceptable"
	NotComputable          Kind = "not-computable"
	NotFound               Kind = "not-found"
	NotTheFormat           Kind = "not-the-format"
	PartsDoNotJoin         Kind = "parts-do-not-join"
	QuotaExceeded          Kind = "quota-exceeded"
	TooLarge               Kind = "too-large"
	TooLong                Kind = "too-long"
	TooMany                Kind = "too-many"
	TooManyNodes           Kind = "too-many-nodes"
	TooShort               Kind = "too-short"
	UnsupportedCoding      Kind = "unsupported-coding"
	UnsupportedMediaType   Kind = "unsupported-media-type"
	ValueOutOfRange        Kind = "value-out-of-range"
)
