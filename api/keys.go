package api

import (
	"log/slog"
	"maps"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/api/contract"
	"parcours.example/service/keys"
	"parcours.example/service/quota"
)

// What a request shows of a key.
const (
	keyKnown   = "known"
	keyUnknown = "unknown"
	keyMissing = "missing"
)

// clientKey is where the gate leaves the name of the client in the context.
const clientKey = "parcours.client"

// gate lets requests in: those with a key where keys are asked for, and no more of a caller's
// than its quotas hold. It stands before the body is read, so that a stranger can't make the
// service read one.
type gate struct {
	keys       *keys.File // nil: everyone may call
	quotas     *quota.Counter
	perAddress quota.Limits
	logger     *slog.Logger
	checks     *prometheus.CounterVec
	// costs are those of the guarded calls, by method and route.
	costs map[string]int64
}

// newGate returns a gate, and registers its metrics where keys are asked for.
func newGate(cfg Config, doc *openapi3.T) (*gate, error) {
	g := &gate{
		keys: cfg.Keys, quotas: cfg.Quotas, perAddress: quota.Limits{PerMinute: cfg.PerAddress}, logger: cfg.Logger, costs: costsOf(doc),
		checks: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "parcours_keys_checks_total", Help: "Requests that need a key, by what they show of one.",
		}, []string{"key"}),
	}
	if g.keys == nil {
		return g, nil
	}
	for _, outcome := range []string{keyKnown, keyUnknown, keyMissing} {
		g.checks.WithLabelValues(outcome)
	}
	return g, cfg.Registry.Register(g.checks)
}

// costOf is the contract's x-cost of a call, in units; 0 for one that no quota counts.
func costOf(op *openapi3.Operation) int64 {
	cost, _ := op.Extensions["x-cost"].(float64)
	return int64(cost)
}

// costsOf lists what the calls cost that may need a key, by method and route.
func costsOf(doc *openapi3.T) map[string]int64 {
	costs := map[string]int64{}
	for path, item := range doc.Paths.Map() {
		for method, op := range maps.All(item.Operations()) {
			if op.Security != nil {
				costs[guarded(method, routeOf(path))] = costOf(op)
			}
		}
	}
	return costs
}

func guarded(method, route string) string { return method + " " + route }

// pass is the middleware.
func (g *gate) pass(c *gin.Context) {
	cost, is := g.costs[guarded(c.Request.Method, c.FullPath())]
	switch {
	case !is:
	case g.keys != nil:
		g.passWithKey(c, cost)
	case g.perAddress.PerMinute > 0 && cost > 0:
		g.held(c, g.quotas.TakeHere(addressOf(c.ClientIP()), g.perAddress, cost))
	}
}

func (g *gate) passWithKey(c *gin.Context, cost int64) {
	key, shown := bearer(c.Request.Header.Values("Authorization"))
	client, known := g.keys.Client(key)
	switch {
	case !shown:
		g.checks.WithLabelValues(keyMissing).Inc()
		writeProblem(c, keyRequired(`Bearer realm="parcours"`, "missing", "This call needs a key: send it as “Authorization: Bearer KEY”, once."))
	case !known:
		g.checks.WithLabelValues(keyUnknown).Inc()
		writeProblem(c, keyRequired(`Bearer realm="parcours", error="invalid_token"`, "unknown", "The key isn't known here, or not any more."))
	default:
		g.checks.WithLabelValues(keyKnown).Inc()
		c.Set(clientKey, client.Name)
		if cost == 0 {
			return
		}
		if v := g.quotas.Take(c.Request.Context(), client.Name, client.Limits, cost); !g.held(c, v) {
			g.logger.Info("a client's quota is used up", slog.String("client", client.Name), slog.String("window", v.Windows[v.Refused].Name))
		}
	}
}

// bearer returns the key in the Authorization fields of a request (RFC 6750 §2.1), and whether
// there is one. Two fields are none: a proxy might look at the other one.
func bearer(fields []string) (key string, shown bool) {
	if len(fields) != 1 {
		return "", false
	}
	scheme, key, _ := strings.Cut(fields[0], " ")
	key = strings.TrimLeft(key, " ")
	return key, strings.EqualFold(scheme, "Bearer") && key != ""
}

// keyRequired is the problem of a request without a key that is known. The connection isn't
// kept: else net/http would first wait for the rest of a body.
func keyRequired(challenge, code, detail string) *problem {
	return &problem{
		kind: kindKeyRequired, detail: detail, header: map[string]string{"WWW-Authenticate": challenge, "Connection": "close"},
		faults: []contract.Fault{{Parameter: optional("Authorization"), Code: code, Detail: detail}},
	}
}

// held tells the caller what is left of its quotas, and refuses the request where they don't
// hold it. It reports whether they do.
func (g *gate) held(c *gin.Context, v quota.Verdict) bool {
	if len(v.Windows) == 0 {
		return true
	}
	h := c.Writer.Header()
	h.Set("RateLimit-Policy", policyField(v))
	h.Set("RateLimit", limitField(v))
	if v.Refused < 0 {
		return true
	}
	writeProblem(c, quotaExceeded(v.Windows[v.Refused]))
	return false
}

// policyField and limitField write draft-ietf-httpapi-ratelimit-headers' fields: which quotas
// there are, and what is left of them.
func policyField(v quota.Verdict) string {
	items := make([]string, len(v.Windows))
	for i, w := range v.Windows {
		items[i] = `"` + w.Name + `";q=` + strconv.FormatInt(w.Quota, 10) + ";w=" + seconds(w.Length)
	}
	return strings.Join(items, ", ")
}

func limitField(v quota.Verdict) string {
	items := make([]string, len(v.Windows))
	for i, w := range v.Windows {
		items[i] = `"` + w.Name + `";r=` + strconv.FormatInt(w.Remaining, 10) + ";t=" + seconds(w.Reset)
	}
	return strings.Join(items, ", ")
}

// seconds are whole ones, rounded up.
func seconds(d time.Duration) string { return strconv.Itoa(wholeSeconds(d)) }

func wholeSeconds(d time.Duration) int { return int(math.Ceil(d.Seconds())) }

// mostSpreadS is by how many seconds at most those who were refused together are told to come
// back apart.
const mostSpreadS = 10

// quotaExceeded is the problem of a request that a quota doesn't hold.
func quotaExceeded(w quota.Window) *problem {
	limit, reset := float64(w.Quota), max(1, wholeSeconds(w.Reset))
	detail := "The quota of " + strconv.FormatInt(w.Quota, 10) + " for a " + w.Name + " is used up, or doesn't hold this call any more; it is whole again in " + strconv.Itoa(reset) + " s."
	return &problem{
		kind: kindQuotaExceeded, detail: detail, limit: &limit, retryAfterS: reset + rand.IntN(min(reset, mostSpreadS)+1),
		faults: []contract.Fault{{Code: w.Name, Detail: detail}},
	}
}
