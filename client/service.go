package client

import (
	"context"
	"net/http"
	"net/url"

	"parcours.example/api/contract"
)

// Ready returns whether the service takes work, and how it does; a *Problem of kind Busy where
// it is stopping. It is asked once.
func (c *Client) Ready(ctx context.Context) (*contract.Health, error) {
	return answered[contract.Health](Once(ctx), c, call{method: http.MethodGet, path: "/readyz", accept: jsonMediaType}, nil)
}

// Live returns whether the service runs at all. It is asked once.
func (c *Client) Live(ctx context.Context) (*contract.Health, error) {
	return answered[contract.Health](Once(ctx), c, call{method: http.MethodGet, path: "/livez", accept: jsonMediaType}, nil)
}

// Contract returns the contract that the service keeps, as YAML.
func (c *Client) Contract(ctx context.Context) ([]byte, error) {
	return c.do(ctx, call{method: http.MethodGet, path: "/openapi.yaml", accept: anyMediaType, store: true})
}

// Metrics returns the service's metrics in the text format of Prometheus.
func (c *Client) Metrics(ctx context.Context) ([]byte, error) {
	return c.do(ctx, call{method: http.MethodGet, path: "/metrics", accept: anyMediaType})
}

// Demo returns a course file of the invented season, by its name.
func (c *Client) Demo(ctx context.Context, name string) ([]byte, error) {
	return c.do(ctx, call{method: http.MethodGet, path: "/demos/" + url.PathEscape(name), accept: anyMediaType, store: true})
}
