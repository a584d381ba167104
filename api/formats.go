package api

import (
	"mime"
	"net/http"
	"slices"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/gin-gonic/gin"

	"parcours.example/service/engine"
)

// jsonMediaType is the media type of requests and results; geoJSONMediaType is what
// JSON is to a call that reads route files and no request.
const (
	jsonMediaType    = "application/json"
	geoJSONMediaType = "application/geo+json"
)

// routeFile is the schema of the bodies that are route files.
const routeFile = "#/components/schemas/RouteFile"

// bodyTypes are the media types that a call reads, as the contract lists them.
type bodyTypes struct {
	// json says that the call has a request in JSON.
	json bool
	// files are those of single route files, many those of several in one body.
	files, many []string
}

// bodyTypesOf sorts the contents of a call's body.
func bodyTypesOf(content openapi3.Content) bodyTypes {
	var b bodyTypes
	for mediaType, body := range content {
		switch {
		case body.Schema.Ref == routeFile:
			b.files = append(b.files, mediaType)
		case mediaType == jsonMediaType:
			b.json = true
		default:
			b.many = append(b.many, mediaType)
		}
	}
	slices.Sort(b.files)
	slices.Sort(b.many)
	return b
}

// list is the call's Accept field.
func (b bodyTypes) list() string {
	var types []string
	if b.json {
		types = append(types, jsonMediaType)
	}
	return strings.Join(slices.Concat(types, b.many, b.files), ", ")
}

// reads reports whether the call takes route files under a media type: one of its
// own, or one that senders name who don't know better.
func (b bodyTypes) reads(mediaType string) bool {
	_, general := engine.FileTypes()
	return len(b.files) > 0 && (slices.Contains(b.files, mediaType) || slices.Contains(general, mediaType))
}

// mediaType returns the request's media type in lower case, without parameters.
func mediaType(r *http.Request) string {
	field := r.Header.Get("Content-Type")
	t, _, err := mime.ParseMediaType(field)
	if err != nil {
		t, _, _ = strings.Cut(field, ";")
	}
	return strings.ToLower(strings.TrimSpace(t))
}

// nameFormat is the middleware that settles what a body is: a request in JSON or a
// route file, whose media type it normalises. It refuses what a call doesn't read.
// It knows the calls' bodies by their paths.
func nameFormat(calls map[string]bodyTypes) func(*gin.Context) {
	return func(c *gin.Context) {
		body, hasBody := calls[c.FullPath()]
		if !hasBody || c.Request.Method != http.MethodPost {
			return
		}
		named := mediaType(c.Request)
		switch {
		case body.json && named == jsonMediaType:
		case slices.Contains(body.many, named): // its parameters are needed yet
			return
		case !body.reads(named):
			writeProblem(c, unsupportedMediaType(named, body))
			return
		case named == jsonMediaType:
			named = geoJSONMediaType
		}
		c.Request.Header.Set("Content-Type", named)
	}
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
