package main

import (
	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/service/jobs"
)

// openJobs opens the queue of calls that are answered later.
func openJobs(s settings, registry *prometheus.Registry) (jobs.Queue, error) {
	return jobs.NewLocal(jobs.Config{Workers: s.jobWorkers, TTL: s.jobTTL, MostWaiting: s.jobsWaiting, Registerer: registry})
}
