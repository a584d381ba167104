package api

import (
	"mime"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"parcours.example/service/engine"
)

// fileMediaTypes are the media types of route files, as the contract lists them.
const fileMediaTypes = "application/gpx+xml, application/xml, text/xml, application/octet-stream"

// generalTypes are what senders name who don't know better; "" is none at all.
// For them the format is recognised from the bytes.
var generalTypes = map[string]bool{
	"": true, "application/octet-stream": true, "application/x-www-form-urlencoded": true, "text/plain": true,
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

// nameFormat is the middleware that settles what a body is: it normalises the
// media type, recognises route files sent under a general one, and refuses what a
// call doesn't read.
func nameFormat(c *gin.Context) {
	if c.Request.Method != http.MethodPost {
		return
	}
	takesFiles := c.FullPath() == "/v1/courses" || c.FullPath() == "/v1/briefs"
	takesJSON := c.FullPath() != "/v1/courses"
	named := mediaType(c.Request)
	switch {
	case takesJSON && named == "application/json":
		c.Request.Header.Set("Content-Type", named)
	case takesFiles && generalTypes[named]:
		recognised, ok := engine.Recognise(requestBody(c))
		if !ok {
			writeProblem(c, unreadableFile(c, takesJSON))
			return
		}
		c.Request.Header.Set("Content-Type", recognised)
	case takesFiles && strings.Contains(fileMediaTypes+",", named+","):
		c.Request.Header.Set("Content-Type", named)
	default:
		writeProblem(c, unsupportedMediaType(named, takesFiles, takesJSON))
	}
}

// unreadableFile is the problem of bytes that no reader recognises.
func unreadableFile(c *gin.Context, takesJSON bool) *problem {
	if len(requestBody(c)) == 0 {
		return &problem{kind: kindMalformedRequest, detail: "The body is empty; send a route file."}
	}
	p := unsupportedMediaType("", true, takesJSON)
	p.detail = "The bytes are of no format that is known here; send GPX."
	return p
}

// unsupportedMediaType is the problem of a media type that a call doesn't read.
func unsupportedMediaType(named string, takesFiles, takesJSON bool) *problem {
	var types []string
	if takesJSON {
		types = append(types, "application/json")
	}
	if takesFiles {
		types = append(types, fileMediaTypes)
	}
	list := strings.Join(types, ", ")
	if named == "" {
		named = "no media type"
	}
	return &problem{
		kind: kindUnsupportedMediaType, detail: "This call reads " + list + ", not “" + clip(named) + "”.",
		header: map[string]string{"Accept": list},
	}
}
