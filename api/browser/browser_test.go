// Package browser_test uses the service's pages as people do: in a real browser, over the
// real handler and engine. It holds tests only; how they act is in internal/browsertest.
package browser_test

import (
	"log/slog"
	"net/http"
	"os"
	"testing"

	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/api"
	"parcours.example/internal/browsertest"
	"parcours.example/service/engine"
)

// root is the module's root, from this package.
const root = "../.."

func TestMain(m *testing.M) { os.Exit(browsertest.Main(m)) }

// tab is a page over a service of its own.
type tab struct{ *browsertest.Tab }

// newTab starts a service and opens an empty tab.
func newTab(t testing.TB) *tab {
	t.Helper()
	return newTabOver(t, service(t))
}

// newTabOver opens a tab as newTab does, over another service.
func newTabOver(t testing.TB, handler http.Handler) *tab {
	t.Helper()
	return &tab{browsertest.New(t, handler)}
}

// eval returns the value of a JavaScript expression, or of the promise that it is.
func eval[T any](b *tab, expression string) T {
	b.T.Helper()
	return browsertest.Eval[T](b.Tab, expression)
}

// service is the real handler over a real engine.
func service(t testing.TB) http.Handler {
	t.Helper()
	return serviceFor(t, api.Config{})
}

// serviceFor is service with a say in who may call.
func serviceFor(t testing.TB, callers api.Config) http.Handler {
	t.Helper()
	registry := prometheus.NewRegistry()
	e, err := engine.New(engine.Config{Registerer: registry})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(e.Close)
	callers.Engine, callers.Registry, callers.Ready = e, registry, func() bool { return true }
	callers.Logger = slog.New(slog.DiscardHandler)
	handler, err := api.New(callers)
	if err != nil {
		t.Fatal(err)
	}
	return handler
}
