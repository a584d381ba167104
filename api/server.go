// Package api is Parcours over HTTP: it decodes requests, holds them against the
// contract, calls the engine and writes results and problems. It knows HTTP and
// nothing of cycling.
package api

import (
	"cmp"
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/routers/gorillamux"
	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"
	"go.opentelemetry.io/otel/trace"

	parcours "parcours.example"
	"parcours.example/service/engine"
	"parcours.example/service/jobs"
	"parcours.example/service/keys"
	"parcours.example/service/quota"
)

// Config is what the handler needs. All fields are required but StallTimeout and those below
// the gap, by which a service is traced, and closed to some or opened to others.
type Config struct {
	Engine *engine.Engine
	// Logger takes one record for each request, without bodies, coordinates or
	// query values.
	Logger *slog.Logger
	// Registry takes the handler's metrics and is what /metrics shows.
	Registry *prometheus.Registry
	// StallTimeout is the time in which a caller must send the next 64 KiB of a body, or take
	// those of an answer; 0 for 10 s.
	StallTimeout time.Duration
	// Ready reports whether the service takes work; false while it is stopping.
	Ready func() bool

	// Jobs keeps the calls that are answered later, and this handler answers them; nil for
	// answering all at once.
	Jobs jobs.Queue
	// Tracer makes the spans of requests; nil for none.
	Tracer trace.Tracer
	// Keys are those of the callers; nil lets everyone call.
	Keys *keys.File
	// Quotas counts calls. It is required with Keys and with PerAddress.
	Quotas *quota.Counter
	// PerAddress is the quota for a minute of each address, in units of cost, where there are
	// no Keys; 0 for none.
	PerAddress int64
	// Origins are those whose pages may call from a browser, as CheckOrigin wants them.
	Origins []string
	// TrustedProxies are the addresses and networks of proxies whose X-Forwarded-For is
	// believed.
	TrustedProxies []string
}

// server holds what the handlers share.
type server struct {
	engine   *engine.Engine
	logger   *slog.Logger
	registry *prometheus.Registry
	pace     time.Duration
	ready    func() bool
	meter    *meter
	tracer   trace.Tracer
	pages    pages
	fixed    fixedTexts
	// jobs is nil where all is answered at once; replays answers what is answered later.
	jobs       jobs.Queue
	laterCalls map[string]bool
	replays    http.Handler
	// questions is what is asked of the rounds of a season that come as files.
	questions bodyCheck
}

// New returns the handler for everything that the contract lists. It fails where
// the contract itself is broken or the metrics are already registered.
func New(cfg Config) (http.Handler, error) {
	doc, err := loadContract()
	if err != nil {
		return nil, err
	}
	router, err := gorillamux.NewRouter(doc)
	if err != nil {
		return nil, fmt.Errorf("api: routes of the contract: %w", err)
	}
	meter, err := newMeter(cfg.Registry)
	if err != nil {
		return nil, fmt.Errorf("api: metrics: %w", err)
	}
	pages, err := loadPages()
	if err != nil {
		return nil, fmt.Errorf("api: pages: %w", err)
	}
	s := &server{engine: cfg.Engine, logger: cfg.Logger, registry: cfg.Registry, pace: cmp.Or(cfg.StallTimeout, defaultPace), ready: cfg.Ready, meter: meter, tracer: cfg.Tracer, pages: pages, jobs: cfg.Jobs, laterCalls: laterCallsOf(doc), questions: bodyCheck{doc.Components.Schemas["SeasonQuestion"].Value}}
	gate, err := newGate(cfg, doc)
	if err != nil {
		return nil, fmt.Errorf("api: metrics: %w", err)
	}
	return s.routes(cfg, &validator{router: router, paths: doc.Paths}, gate, bodiesOf(doc))
}

// routes puts the handlers behind what every request goes through.
func (s *server) routes(cfg Config, v *validator, gate *gate, bodies map[string]bodyTypes) (http.Handler, error) {
	gin.SetMode(gin.ReleaseMode)
	g := gin.New()
	g.HandleMethodNotAllowed = true
	g.RedirectTrailingSlash = false
	g.ContextWithFallback = true
	g.RemoteIPHeaders = []string{"X-Forwarded-For"}
	if err := g.SetTrustedProxies(cfg.TrustedProxies); err != nil {
		return nil, fmt.Errorf("api: %w", err)
	}
	if s.tracer != nil {
		g.Use(s.trace)
	}
	g.Use(identify, s.observe, s.secure, s.recover)
	if len(cfg.Origins) > 0 {
		g.Use(otherOrigins(cfg.Origins))
	}
	g.NoRoute(func(c *gin.Context) {
		writeProblem(c, notFound())
	})
	g.NoMethod(func(c *gin.Context) {
		p := v.unrouted(c.Request.URL.Path)
		if p.kind == kindNotFound { // a path with a variable
			p = methodNotAllowed(c.Writer.Header().Get("Allow"))
		}
		writeProblem(c, p)
	})
	s.register(g.Group("", gate.pass, s.readBody, s.recall, nameFormat(bodies), s.admit, v.validate))
	if s.jobs == nil {
		return paced(headAsGet(g), s.pace), nil
	}
	again := gin.New()
	again.ContextWithFallback = true
	again.Use(identify, s.recover)
	s.register(again.Group("", takeBody, s.recall, nameFormat(bodies), s.admit, v.validate))
	s.replays = again
	return paced(headAsGet(g), s.pace), s.jobs.Start(s.answerLater)
}

// register puts the handlers of all calls behind what a group does first.
func (s *server) register(calls *gin.RouterGroup) {
	RegisterHandlersWithOptions(calls, s, GinServerOptions{
		ErrorHandler: func(c *gin.Context, err error, _ int) {
			writeProblem(c, &problem{kind: kindInvalidRequest, detail: clip(firstLine(err.Error()))})
		},
	})
}

// headAsGet answers HEAD like GET; net/http keeps the body back.
func headAsGet(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodHead {
			r = r.WithContext(context.WithValue(r.Context(), headKey{}, true))
			r.Method = http.MethodGet
		}
		next.ServeHTTP(w, r)
	})
}

// headKey is where a context keeps that HEAD was asked.
type headKey struct{}

// methodAsked is the method that a request came with.
func methodAsked(r *http.Request) string {
	if r.Context().Value(headKey{}) != nil {
		return http.MethodHead
	}
	return r.Method
}

// bodiesOf lists the media types that the calls read, by their routes.
func bodiesOf(doc *openapi3.T) map[string]bodyTypes {
	bodies := map[string]bodyTypes{}
	for path, item := range doc.Paths.Map() {
		if item.Post == nil || item.Post.RequestBody == nil {
			continue
		}
		bodies[routeOf(path)] = bodyTypesOf(item.Post.RequestBody.Value.Content)
	}
	return bodies
}

// routeOf writes a path of the contract as the router does.
func routeOf(path string) string { return strings.NewReplacer("{", ":", "}", "").Replace(path) }

// methodNotAllowed is the problem of an address that answers other methods.
func methodNotAllowed(allowed string) *problem {
	return &problem{kind: kindMethodNotAllowed, detail: "This address answers " + allowed + " only.", header: map[string]string{"Allow": allowed}}
}

// notFound is the problem of an address that the contract doesn't have.
func notFound() *problem {
	return &problem{kind: kindNotFound, detail: "Nothing answers at this address; /docs lists what does."}
}

// loadContract parses and checks the embedded contract, the first time that it is called:
// it is the same for every handler, and nothing changes it.
var loadContract = sync.OnceValues(func() (*openapi3.T, error) {
	doc, err := openapi3.NewLoader().LoadFromData(parcours.Contract)
	if err != nil {
		return nil, fmt.Errorf("api: contract: %w", err)
	}
	if err := doc.Validate(context.Background()); err != nil {
		return nil, fmt.Errorf("api: contract: %w", err)
	}
	doc.Servers = nil // so that the host isn't matched
	return doc, nil
})
