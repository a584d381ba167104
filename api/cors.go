package api

import (
	"net/http"
	"regexp"

	"github.com/gin-gonic/gin"
	"github.com/rs/cors"
)

// preflightHeldS is how long a browser may hold what it was told of other origins, in seconds.
const preflightHeldS = 600

// CheckOrigin reports whether a text is an origin as browsers send it: a scheme, a host and,
// where it isn't the scheme's own, a port; nothing else. "*" isn't one: it would let every page
// that anyone opens ask in the reader's place, also where the service is reached from inside a
// network alone.
func CheckOrigin(text string) bool {
	parts := origin.FindStringSubmatch(text)
	if parts == nil {
		return false
	}
	scheme, port := parts[1], parts[2]
	return port != map[string]string{"http": "80", "https": "443"}[scheme]
}

// origin is a scheme, a host in lower case or an address, and perhaps a port.
var origin = regexp.MustCompile(`^(https?)://(?:[a-z0-9.-]+|\[[0-9a-f:.]+\])(?::([0-9]{1,5}))?$`)

// otherOrigins is the middleware that lets pages of other origins call, and read what is
// answered (Fetch standard, CORS protocol). Keys aren't credentials in its sense: a page sends
// them itself, and a browser never does on its own.
//
// Cross-Origin-Resource-Policy stays as it is: it keeps other pages from embedding replies
// without asking, and doesn't concern requests that ask (Fetch standard, HTTP fetch: the check
// is made of opaque responses alone). A picture is asked for with <img crossorigin>.
func otherOrigins(origins []string) gin.HandlerFunc {
	protocol := cors.New(cors.Options{
		AllowedOrigins: origins,
		AllowedMethods: []string{http.MethodGet, http.MethodHead, http.MethodPost, http.MethodDelete},
		AllowedHeaders: []string{"Accept", "Authorization", "Content-Encoding", "Content-Type", "If-None-Match", preferField, requestIDField},
		ExposedHeaders: []string{"ETag", "Link", "Location", appliedField, "RateLimit", "RateLimit-Policy", requestIDField, "Retry-After"},
		MaxAge:         preflightHeldS,
	})
	return func(c *gin.Context) {
		protocol.HandlerFunc(c.Writer, c.Request)
		if c.Request.Method == http.MethodOptions && c.GetHeader("Access-Control-Request-Method") != "" {
			c.Abort() // it is answered
		}
	}
}
