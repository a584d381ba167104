package track

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
)

// xmlTokens reads the tokens of an XML file from anywhere: it bounds the length of
// tags, the depth and the number of elements, refuses document type declarations,
// and says in which line of the file something is wrong.
type xmlTokens struct {
	src *source
	// abandoned says why nobody waits for the file any more; nil while somebody does.
	abandoned func() error
	tokens    int // so far
	dec       *xml.Decoder
	limits    Limits
	// format is what people call the file's format, "GPX"; root is the local name
	// of its outermost element.
	format, root string

	line     int // 1-based, of the current token's start
	elements int
	depth    int  // elements open around the next token
	inside   bool // the root was opened
}

// newXMLTokens reads text that is UTF-8 already.
func newXMLTokens(ctx context.Context, text []byte, limits Limits, format, root string) *xmlTokens {
	src := &source{data: text}
	dec := xml.NewDecoder(src)
	// The text is UTF-8 by now, whatever the declaration says.
	dec.CharsetReader = func(_ string, r io.Reader) (io.Reader, error) { return r, nil }
	return &xmlTokens{src: src, abandoned: ctx.Err, dec: dec, limits: limits, format: format, root: root}
}

// next returns the next token. Every error is an *Error, or the context's. The file's end is one: a
// reader stops at the root's end.
func (x *xmlTokens) next() (xml.Token, error) {
	if err := x.look(); err != nil {
		return nil, err
	}
	x.line, _ = x.dec.InputPos()
	x.src.startToken(int(x.dec.InputOffset()))
	t, err := x.dec.Token()
	if err != nil {
		return nil, x.broken(err)
	}
	switch t := t.(type) {
	case xml.StartElement:
		return t, x.start(t)
	case xml.EndElement:
		x.depth--
	case xml.CharData:
		if !x.inside && len(bytes.TrimSpace(t)) > 0 {
			return nil, x.notTheFormat("does not start as XML")
		}
	case xml.Directive:
		return nil, x.directive(t)
	}
	return t, nil
}

// look counts a token, or what is as long, and says now and then whether the file was
// abandoned.
func (x *xmlTokens) look() error {
	if x.tokens++; x.tokens%checkEvery == 0 {
		return x.abandoned()
	}
	return nil
}

// start counts an opening tag.
func (x *xmlTokens) start(t xml.StartElement) error {
	x.elements++
	x.depth++
	switch {
	case x.elements > x.limits.Elements:
		return x.tooMany("elements", "export it without extensions", x.limits.Elements, x.elements)
	case x.depth > x.limits.Depth:
		return x.tooMany("levels of elements inside each other", "export it without extensions", x.limits.Depth, x.depth)
	case x.inside:
		return nil
	case t.Name.Local != x.root:
		return &Error{Code: CodeNotTheFormat, Line: x.line, Detail: fmt.Sprintf(
			"The file's root element is <%s>, not <%s>; export the course as %s, or name the file's true format.", clean(t.Name.Local, 40), x.root, x.format)}
	}
	x.inside = true
	return nil
}

// notTheFormat refuses a file over its beginning.
func (x *xmlTokens) notTheFormat(what string) error {
	return &Error{Code: CodeNotTheFormat, Line: x.line, Detail: fmt.Sprintf(
		"The file %s; export the course as %s, or name the file's true format.", what, x.format)}
}

// directive refuses document type declarations: no format of courses has them, and
// what they can declare is a danger to whoever reads it.
func (x *xmlTokens) directive(d []byte) error {
	if bytes.HasPrefix(bytes.ToLower(d), []byte("doctype html")) {
		return &Error{Code: CodeNotTheFormat, Line: x.line, Detail: fmt.Sprintf(
			"This is a web page, not a %s file; download the file itself.", x.format)}
	}
	return &Error{Code: CodeMalformed, Line: x.line, Detail: fmt.Sprintf(
		"The file holds a document type declaration (<!DOCTYPE …>), which %s does not have; remove it.", x.format)}
}

// broken turns the decoder's error into one that says what to do.
func (x *xmlTokens) broken(err error) error {
	var own *Error
	if errors.As(err, &own) {
		return own
	}
	code := CodeMalformed
	if !x.inside {
		code = CodeNotTheFormat
	}
	var syntax *xml.SyntaxError
	switch {
	case errors.Is(err, io.EOF):
		return &Error{Code: code, Line: x.line, Detail: fmt.Sprintf(
			"The file holds no %s element; export the course as %s.", x.format, x.format)}
	case errors.As(err, &syntax) && syntax.Msg == "unexpected EOF":
		return &Error{
			Code: code, Line: syntax.Line,
			Detail: "The file breaks off here, before it is complete; export it or send it again.",
		}
	case errors.As(err, &syntax):
		return &Error{Code: code, Line: syntax.Line, Detail: fmt.Sprintf(
			"The file is not well-formed XML here (%s); mend this line or export the file again.", clean(syntax.Msg, 120))}
	}
	return &Error{Code: code, Line: x.line, Detail: fmt.Sprintf(
		"The file can't be read on from here (%s); export it again.", clean(err.Error(), 120))}
}

// tooMany refuses a file that is beyond a limit.
func (x *xmlTokens) tooMany(what, advice string, limit, actual int) error {
	return &Error{Code: CodeTooMany, Line: x.line, Limit: limit, Actual: actual, Detail: fmt.Sprintf(
		"The file has %d %s, at most %d can be read; %s.", actual, what, limit, advice)}
}

// rest counts the opening tags, as far as they are plainly written, in what is
// left of the file.
func (x *xmlTokens) rest(tags ...string) int {
	n := 0
	for _, tag := range tags {
		n += bytes.Count(x.src.data[x.src.pos:], []byte("<"+tag))
	}
	return n
}

// noteTrailing warns if anything but comments follows the root element, which was
// read to its end.
func (x *xmlTokens) noteTrailing(notes *notebook) {
	for {
		x.src.startToken(int(x.dec.InputOffset()))
		t, err := x.dec.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		text, isText := t.(xml.CharData)
		_, isElement := t.(xml.StartElement)
		if err != nil || isElement || isText && len(bytes.TrimSpace(text)) > 0 {
			notes.addFile("content-after-end", fmt.Sprintf("What follows the end of the %s element was ignored.", x.format))
			return
		}
	}
}
