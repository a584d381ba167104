package api

import (
	"path"

	"github.com/gin-gonic/gin"

	parcours "parcours.example"
	"parcours.example/api/page"
)

// pagePolicy lets the page load its own parts and call its own service, and nothing else.
// Pictures to download are blobs.
const pagePolicy = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self' blob:; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// assetTypes are the media types of the page's parts.
func assetTypes() map[string]string {
	return map[string]string{
		".html": "text/html; charset=utf-8", ".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8",
		".svg": svgMediaType,
	}
}

// Page implements GET /.
func (s *server) Page(c *gin.Context) {
	document(c, pagePolicy)
	s.replyAsset(c, "index.html")
}

// PageAsset implements GET /page/{asset}.
func (s *server) PageAsset(c *gin.Context, asset string) { s.replyAsset(c, asset) }

// replyAsset sends a part of the page. It is asked for anew each time, so that a page and
// its modules are of one build; a part that the browser holds is answered 304.
func (s *server) replyAsset(c *gin.Context, name string) {
	body, err := page.Files.ReadFile(name)
	if err != nil {
		writeProblem(c, notFound())
		return
	}
	s.replyFresh(c, result{mediaType: assetTypes()[path.Ext(name)], body: body, key: "page/" + digestKey(body)})
}

// Demo implements GET /demos/{demo}.
func (s *server) Demo(c *gin.Context, demo string) {
	body, err := parcours.Demos.ReadFile("testdata/season/" + demo + ".gpx")
	if err != nil {
		writeProblem(c, &problem{kind: kindNotFound, detail: "There is no course of this name to try; the page at / lists them."})
		return
	}
	s.replyFresh(c, result{mediaType: "application/gpx+xml", body: body, key: "demo/" + digestKey(body)})
}
