package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strconv"
	"strings"
	"syscall"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// places say where what stands in a request comes from, by pointers into it and names of
// parameters: "/riders/0" came from "--rider 1", "laps" from "--laps".
type places map[string]string

// put says where what a pointer leads to comes from.
func (p places) put(place, format string, args ...any) {
	p[fmt.Sprintf(format, args...)] = place
}

// of returns where the fault's place comes from, in the words of the command line.
func (p places) of(fault contract.Fault) string {
	if fault.Parameter != nil {
		return "--" + strings.ReplaceAll(*fault.Parameter, "_", "-")
	}
	pointer := strings.TrimPrefix(text(fault.Pointer), "#")
	for known, rest := pointer, ""; known != ""; {
		if place, ok := p[known]; ok {
			return strings.TrimSuffix(place+" "+strings.TrimPrefix(rest, "/"), " ")
		}
		cut := strings.LastIndexByte(known, '/')
		rest, known = known[cut:]+rest, known[:cut]
	}
	return strings.TrimPrefix(pointer, "/")
}

// exitCode says what went wrong, if anything did, and turns it into an exit code.
func (s *session) exitCode(err error) int {
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errTold):
		return exitFailed
	case errors.Is(err, syscall.EPIPE):
		return exitFailed // whoever read this has left
	case errors.Is(err, context.Canceled):
		return exitInterrupted
	}
	s.tell(err)
	if _, ok := errors.AsType[usageError](err); ok {
		fmt.Fprintln(s.std.err, "See --help.")
		return exitUsage
	}
	return exitFailed
}

// tell writes an error for a person, each fault on a line of its own.
func (s *session) tell(err error) {
	for _, line := range s.lines(err) {
		fmt.Fprintln(s.std.err, screenOf(s.std.err).wrap("parcours: "+plain(line), "  "))
	}
}

// lines are the lines that tell an error.
func (s *session) lines(err error) []string {
	p, isProblem := errors.AsType[*client.Problem](err)
	switch {
	case isProblem:
		return s.problemLines(p, before(err, p))
	case errors.Is(err, context.DeadlineExceeded):
		return []string{fmt.Sprintf("%v were not enough; give more with --timeout.", s.flags.Timeout)}
	case errors.Is(err, syscall.ECONNREFUSED):
		return []string{fmt.Sprintf("no service answers at %s. Start one, name another with --server, or compute here with --local.", s.flags.Server)}
	case errors.Is(err, client.ErrReply):
		return []string{fmt.Sprintf("what answers at %s doesn't answer as the service does: %v", s.flags.Server, err)}
	}
	if joined, ok := err.(interface{ Unwrap() []error }); ok { //nolint:errorlint // only joined ones have lines of their own
		var lines []string
		for _, e := range joined.Unwrap() {
			lines = append(lines, s.lines(e)...)
		}
		return lines
	}
	if of, ok := errors.AsType[*fs.PathError](err); ok && of == err { //nolint:errorlint // nothing is said around it
		return []string{fmt.Sprintf("%s: %v", of.Path, of.Err)}
	}
	return []string{strings.TrimPrefix(err.Error(), "client: ")}
}

// before is what is said around a problem in front of it, like the file's name.
func before(err error, p *client.Problem) string {
	around, _ := strings.CutSuffix(err.Error(), p.Error())
	return around
}

// problemLines are the lines that tell a problem: what is wrong and where, then where to read
// on.
func (s *session) problemLines(p *client.Problem, around string) []string {
	lines := []string{around + problemText(&p.Problem)}
	if p.Errors != nil && len(*p.Errors) > 0 {
		lines = lines[:0]
		for _, f := range *p.Errors {
			lines = append(lines, around+strings.TrimPrefix(s.files.of(f)+": ", ": ")+cmp.Or(f.Detail, f.Code, p.Title))
		}
		if p.ErrorsTruncated != nil && *p.ErrorsTruncated {
			lines = append(lines, "there are more faults of this kind")
		}
	}
	switch {
	case errors.Is(p, client.KeyRequired):
		lines = append(lines, "give a file that holds a key with --key-file")
	case errors.Is(p, client.CourseNotCached):
		lines = append(lines, "give the course's file in the place of its id")
	case !s.flags.Local && strings.HasPrefix(p.Type, "/problems/"):
		lines = append(lines, "how to mend it: "+strings.TrimSuffix(s.flags.Server, "/")+p.Type)
	}
	return lines
}

// problemText is a problem as a sentence, with its place in the file or along the course.
func problemText(p *contract.Problem) string {
	var at string
	switch {
	case p.Line != nil:
		at = "line " + strconv.Itoa(*p.Line) + ": "
	case p.Point != nil:
		at = "point " + strconv.Itoa(*p.Point) + ": "
	}
	if p.Detail == nil {
		return at + p.Title
	}
	return at + *p.Detail
}
