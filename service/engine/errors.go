package engine

import (
	"errors"
	"fmt"
	"runtime/debug"
	"time"
)

// ErrNotCached says that no course is cached under the asked id: its file must be
// sent again.
var ErrNotCached = errors.New("the course is not in the cache; send its file again")

// The codes of Error.
const (
	// CodeInvalid: a value is not of the form or in the range that it must have.
	CodeInvalid = "invalid-request"
	// CodeTooMany: a count is above its limit.
	CodeTooMany = "too-many"
	// CodeTooLarge: a file has more bytes than its limit once it is unpacked.
	CodeTooLarge = "too-large"
	// CodeUnsupportedMediaType: the named format of a file is not read here.
	CodeUnsupportedMediaType = "unsupported-media-type"
	// CodeNotComputable: parts of the request contradict each other or something
	// that it needs is missing.
	CodeNotComputable = "not-computable"
)

// Error says which part of a request can't be met, and why. Faults of files,
// courses and rides come as *track.Error, *course.Error and *ride.Error.
type Error struct {
	// Code is one of the Code constants here, or of package ride where the fault is
	// in one place of the request.
	Code string
	// Pointer is the place in a JSON request, "#/riders/0/mass_kg"; Parameter a
	// query parameter or a flag. At most one is set.
	Pointer, Parameter string
	// Detail is a sentence for people that says how to correct it.
	Detail string
	// Limit is set for CodeTooMany and CodeTooLarge, Actual for CodeTooMany.
	Limit, Actual float64
}

// Error implements error.
func (e *Error) Error() string { return e.Detail }

// tooMany is the error of a count above its limit. what completes "The request
// comes to 12 …".
func tooMany(pointer, what string, limit, actual int) *Error {
	return &Error{
		Code: CodeTooMany, Pointer: pointer, Limit: float64(limit), Actual: float64(actual),
		Detail: fmt.Sprintf("The request comes to %d %s; at most %d are taken.", actual, what, limit),
	}
}

// BusyError says that no worker became free in time, or that what other callers sent
// takes all the memory that is meant for it.
type BusyError struct {
	// RetryAfter is how long to wait before asking again, at least one second.
	RetryAfter time.Duration
}

// Error implements error.
func (e *BusyError) Error() string {
	return fmt.Sprintf("as much work is under way as is taken; try again in %v", e.RetryAfter)
}

// PanicError is a fault of ours that was caught inside a computation. Its stack is
// for the log only.
type PanicError struct {
	Value any
	Stack []byte
}

// Error implements error.
func (e *PanicError) Error() string { return fmt.Sprintf("panic in a computation: %v", e.Value) }

// guard turns a panic of work into a *PanicError. Computations run on goroutines
// of their own, where a panic would otherwise end the process.
func guard[T any](work func() (T, error)) (result T, err error) {
	defer func() {
		if value := recover(); value != nil {
			err = &PanicError{Value: value, Stack: debug.Stack()}
		}
	}()
	return work()
}
