package track

import (
	"bytes"
	"fmt"
	"io"
	"regexp"
	"strings"
	"unicode/utf8"

	"golang.org/x/net/html/charset"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// declaration finds the encoding in an XML declaration.
var declaration = regexp.MustCompile(`^\s*<\?xml[^>]*\sencoding\s*=\s*["']([^"']{1,40})["']`)

// decodeText returns an XML file's text in UTF-8 without byte order mark. Guessed
// is true where the bytes are not of the declared encoding and were taken for
// Windows-1252.
func decodeText(data []byte) (text []byte, guessed bool, err error) {
	if enc := utf16(data); enc != nil {
		text, err = enc.NewDecoder().Bytes(data)
		if err != nil {
			return nil, false, &Error{Code: CodeMalformed, Detail: "The file is not valid UTF-16; save it as UTF-8."}
		}
		return text, false, nil
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	enc, err := declared(data)
	if err != nil {
		return nil, false, err
	}
	if enc == nil {
		if utf8.Valid(data) {
			return data, false, nil
		}
		enc, guessed = charmap.Windows1252, true
	}
	text, err = enc.NewDecoder().Bytes(data)
	if err != nil {
		return nil, false, &Error{Code: CodeMalformed, Detail: "The file is not in the encoding that it declares; save it as UTF-8."}
	}
	return text, guessed, nil
}

// utf16 returns the decoder for a file that starts with a byte order mark of UTF-16,
// or with a letter or sign of ASCII in it, else nil.
func utf16(data []byte) encoding.Encoding {
	if len(data) < 2 {
		return nil
	}
	switch a, b := data[0], data[1]; {
	case a == 0xff && b == 0xfe, a != 0 && b == 0:
		return unicode.UTF16(unicode.LittleEndian, unicode.UseBOM)
	case a == 0xfe && b == 0xff, a == 0 && b != 0:
		return unicode.UTF16(unicode.BigEndian, unicode.UseBOM)
	}
	return nil
}

// declared returns the encoding that the file declares, nil for UTF-8 and for
// none. A declaration of UTF-16 that can be read byte by byte is not true; such
// files are UTF-8.
func declared(data []byte) (encoding.Encoding, error) {
	m := declaration.FindSubmatch(data[:min(len(data), 500)])
	if m == nil || strings.HasPrefix(strings.ToLower(string(m[1])), "utf") {
		return nil, nil
	}
	enc, _ := charset.Lookup(string(m[1]))
	if enc == nil || enc == encoding.Replacement {
		return nil, &Error{Code: CodeMalformed, Line: 1, Detail: fmt.Sprintf(
			"The file declares the encoding %q, which is not known; save it as UTF-8.", clean(string(m[1]), 40))}
	}
	if enc == encoding.Nop || enc == unicode.UTF8 {
		return nil, nil
	}
	return enc, nil
}

// maxTag is how many bytes a tag with its attributes may have: the decoder builds
// all attributes of a tag before it hands it out.
const maxTag = 1 << 16

// source hands the decoder the text byte by byte and stops it inside a tag that
// is too long.
type source struct {
	data []byte
	pos  int
	stop int
}

// startToken tells that the token at the offset is read next.
func (s *source) startToken(offset int) {
	s.stop = len(s.data)
	if offset+1 < len(s.data) && s.data[offset] == '<' && s.data[offset+1] != '!' {
		s.stop = min(s.stop, offset+maxTag)
	}
}

// ReadByte implements io.ByteReader.
func (s *source) ReadByte() (byte, error) {
	if s.pos >= s.stop {
		return 0, s.end()
	}
	s.pos++
	return s.data[s.pos-1], nil
}

// end says why no more can be read.
func (s *source) end() error {
	if s.pos >= len(s.data) {
		return io.EOF
	}
	return &Error{
		Code: CodeTooMany, Line: 1 + bytes.Count(s.data[:s.stop], []byte("\n")), Limit: maxTag, Actual: maxTag + 1,
		Detail: fmt.Sprintf("A tag is longer than %d bytes; remove its attributes.", maxTag),
	}
}

// Read implements io.Reader, which the decoder asks for at a declared encoding.
func (s *source) Read(p []byte) (int, error) {
	if s.pos >= s.stop {
		return 0, s.end()
	}
	n := copy(p, s.data[s.pos:s.stop])
	s.pos += n
	return n, nil
}
