package main

import (
	"log/slog"

	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/service/cache"
	"parcours.example/service/jobs"
)

// openJobs opens the queue of calls that are answered later: in a Redis where one is configured
// for it, else in this process.
func openJobs(s settings, logger *slog.Logger, registry *prometheus.Registry) (jobs.Queue, error) {
	cfg := jobs.Config{Workers: s.jobWorkers, TTL: s.jobTTL, MostWaiting: s.jobsWaiting, Registerer: registry}
	if len(s.jobsRedisURLs) == 0 {
		return jobs.NewLocal(cfg)
	}
	client, err := cache.Client(s.jobsRedisURLs, s.jobsRedisPassword)
	if err != nil {
		return nil, err
	}
	return jobs.OpenShared(cfg, client, logger)
}
