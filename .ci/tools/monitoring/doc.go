// Package monitoring holds the dashboard and the rules in deploy/ against the metrics that a
// running service shows. It is a module of its own, so that the parser of Prometheus is no
// dependency of the service.
package monitoring
