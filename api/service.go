package api

import (
	"net/http"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	parcours "parcours.example"
	"parcours.example/analysis"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
)

// Live implements GET /livez. It touches nothing.
func (s *server) Live(c *gin.Context) {
	s.replyHealth(c, Health{Status: "live", EngineVersion: analysis.EngineVersion})
}

// Ready implements GET /readyz.
func (s *server) Ready(c *gin.Context) {
	if !s.ready() {
		writeProblem(c, &problem{kind: kindBusy, detail: "The service is stopping and takes no more work.", retryAfterS: 1})
		return
	}
	cache := Ok
	if s.engine.Degraded() {
		cache = Degraded
	}
	s.replyHealth(c, Health{Status: "ready", Cache: &cache, EngineVersion: analysis.EngineVersion})
}

func (s *server) replyHealth(c *gin.Context, h Health) {
	c.Header("Cache-Control", "no-store")
	c.JSON(http.StatusOK, h)
}

// Metrics implements GET /metrics.
func (s *server) Metrics(c *gin.Context) {
	promhttp.HandlerFor(s.registry, promhttp.HandlerOpts{}).ServeHTTP(c.Writer, c.Request)
}

// Contract implements GET /openapi.yaml.
func (s *server) Contract(c *gin.Context) {
	s.reply(c, result{mediaType: "application/yaml", body: parcours.Contract, key: "contract/" + digestKey(parcours.Contract)})
}

// Docs implements GET /docs.
func (s *server) Docs(c *gin.Context) {
	document(c, s.pages.policy)
	s.reply(c, result{mediaType: "text/html; charset=utf-8", body: s.pages.docs, key: "docs/" + digestKey(s.pages.docs)})
}

// ExplainProblem implements GET /problems/{name}.
func (s *server) ExplainProblem(c *gin.Context, name string) {
	page, known := s.pages.problems[name]
	if !known {
		writeProblem(c, &problem{kind: kindNotFound, detail: "There is no problem of this name; /docs lists them all."})
		return
	}
	document(c, s.pages.policy)
	s.reply(c, result{mediaType: "text/html; charset=utf-8", body: page, key: "problem/" + digestKey(page)})
}
