package api

import (
	"mime"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"parcours.example/service/engine"
)

// jsonMediaType is the media type of requests and results.
const jsonMediaType = "application/json"

// bodyTypes are the media types that a call reads, as the contract lists them.
type bodyTypes struct {
	json  bool
	files []string
}

// list is the call's Accept field.
func (b bodyTypes) list() string {
	var types []string
	if b.json {
		types = append(types, jsonMediaType)
	}
	return strings.Join(append(types, b.files...), ", ")
}

// generalTypes are what senders name who don't know better; "" is none at all.
// For them the format is recognised from the bytes.
var generalTypes = []string{"", "application/octet-stream", "application/x-www-form-urlencoded", "text/plain"}

// mediaType returns the request's media type in lower case, without parameters.
func mediaType(r *http.Request) string {
	field := r.Header.Get("Content-Type")
	t, _, err := mime.ParseMediaType(field)
	if err != nil {
		t, _, _ = strings.Cut(field, ";")
	}
	return strings.ToLower(strings.TrimSpace(t))
}

// nameFormat is the middleware that settles what a body is: it normalises the
// media type, recognises route files sent under a general one, and refuses what a
// call doesn't read. It knows the calls' bodies by their paths.
func nameFormat(calls map[string]bodyTypes) func(*gin.Context) {
	return func(c *gin.Context) {
		reads, hasBody := calls[c.FullPath()]
		if !hasBody || c.Request.Method != http.MethodPost {
			return
		}
		named := mediaType(c.Request)
		switch {
		case len(reads.files) > 0 && slices.Contains(generalTypes, named):
			recognised, ok := engine.Recognise(requestBody(c))
			if !ok {
				writeProblem(c, unrecognised(c, reads))
				return
			}
			named = recognised
		case reads.json && named == jsonMediaType, slices.Contains(reads.files, named):
		default:
			writeProblem(c, unsupportedMediaType(named, reads))
			return
		}
		c.Request.Header.Set("Content-Type", named)
	}
}

// unrecognised is the problem of bytes that no reader recognises.
func unrecognised(c *gin.Context, reads bodyTypes) *problem {
	if len(requestBody(c)) == 0 {
		return &problem{kind: kindMalformedRequest, detail: "The body is empty; send a route file."}
	}
	p := unsupportedMediaType("", reads)
	p.detail = "The bytes are of no format that is known here; send GPX."
	return p
}

// unsupportedMediaType is the problem of a media type that a call doesn't read.
func unsupportedMediaType(named string, reads bodyTypes) *problem {
	if named == "" {
		named = "no media type"
	}
	return &problem{
		kind: kindUnsupportedMediaType, detail: "This call reads " + reads.list() + ", not “" + clip(named) + "”.",
		header: map[string]string{"Accept": reads.list()},
	}
}
