package track

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
)

// directive refuses document type declarations: GPX has none, and what they can
// declare is a danger to whoever reads it.
func (f *filter) directive(d []byte) error {
	if bytes.HasPrefix(bytes.ToLower(d), []byte("doctype html")) {
		return &Error{
			Code: CodeNotTheFormat, Line: f.line,
			Detail: "This is a web page, not a GPX file; download the file itself.",
		}
	}
	return &Error{
		Code: CodeMalformed, Line: f.line,
		Detail: "The file holds a document type declaration (<!DOCTYPE …>), which GPX does not have; remove it.",
	}
}

// broken turns the decoder's error into one that says what to do.
func (f *filter) broken(err error) error {
	var own *Error
	if errors.As(err, &own) {
		return own
	}
	code := CodeMalformed
	if len(f.open) == 0 {
		code = CodeNotTheFormat
	}
	var syntax *xml.SyntaxError
	switch {
	case errors.Is(err, io.EOF):
		return &Error{Code: code, Line: f.line, Detail: "The file holds no GPX element; export the course as GPX."}
	case errors.As(err, &syntax) && syntax.Msg == "unexpected EOF":
		return &Error{
			Code: code, Line: syntax.Line,
			Detail: "The file breaks off here, before it is complete; export it or send it again.",
		}
	case errors.As(err, &syntax):
		return &Error{Code: code, Line: syntax.Line, Detail: fmt.Sprintf(
			"The file is not well-formed XML here (%s); mend this line or export the file again.", clean(syntax.Msg, 120))}
	}
	return &Error{Code: code, Line: f.line, Detail: fmt.Sprintf(
		"The file can't be read on from here (%s); export it again.", clean(err.Error(), 120))}
}

// tooMany refuses a file that is beyond a limit.
func (f *filter) tooMany(what, advice string, limit, actual int) error {
	return &Error{Code: CodeTooMany, Line: f.line, Limit: limit, Actual: actual, Detail: fmt.Sprintf(
		"The file has %d %s, at most %d can be read; %s.", actual, what, limit, advice)}
}

// rest counts the opening tags, as far as they are plainly written, in what is
// left of the file.
func (f *filter) rest(tags ...string) int {
	n := 0
	for _, tag := range tags {
		n += bytes.Count(f.src.data[f.src.pos:], []byte("<"+tag))
	}
	return n
}
