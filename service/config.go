package main

import (
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"strconv"
	"strings"
	"time"

	"parcours.example/api"
	"parcours.example/service/cache"
)

// usageError names everything that is wrong in a command line or a configuration.
type usageError struct{ faults []error }

// Error implements error.
func (e *usageError) Error() string {
	lines := make([]string, len(e.faults))
	for i, fault := range e.faults {
		lines[i] = "\n  " + fault.Error()
	}
	return "the configuration is wrong:" + strings.Join(lines, "")
}

// computing is the configuration of whatever computes. The settings are read as text and
// checked together, so that all faults are named at once.
type computing struct {
	CacheBytes            string `default:"268435456" placeholder:"BYTES" help:"Most memory of cached courses in bytes (${default})."`
	AnswerBytes           string `default:"67108864" placeholder:"BYTES" help:"Most memory of kept answers in bytes (${default})."`
	HeldBytes             string `default:"268435456" placeholder:"BYTES" help:"Most memory of what all callers have sent in bytes (${default})."`
	RedisURL              string `default:"" name:"redis-url" placeholder:"URL,…" help:"Redis that replicas share their courses through: redis://host:port; several for a Cluster; with ?master=NAME, Sentinels."`
	RedisPasswordFile     string `default:"" placeholder:"FILE" help:"File that holds the password of Redis, where its URL doesn't."`
	RedisTTL              string `default:"168h" name:"redis-ttl" placeholder:"DURATION" help:"How long a course stays in Redis (${default})."`
	Workers               string `default:"0" placeholder:"N" help:"Computations at the same time; 0 for one on each core (${default})."`
	JobTTL                string `default:"1h" name:"job-ttl" placeholder:"DURATION" help:"How long a job that is over can be fetched (${default})."`
	LogLevel              string `default:"info" placeholder:"LEVEL" help:"Least level that is logged: debug, info, warn or error (${default})."`
	AdminListen           string `default:"" placeholder:"HOST:PORT" help:"Address for those who run the service: metrics, profiles, configuration. Left out, there is none."`
	StopGrace             string `default:"30s" placeholder:"DURATION" help:"How long running requests may take to finish when stopping (${default})."`
	JobsRedisURL          string `default:"" name:"jobs-redis-url" placeholder:"URL,…" help:"Redis that keeps the jobs, written as --redis-url: one that evicts nothing. Left out, jobs are kept in the process, and lost with it."`
	JobsRedisPasswordFile string `default:"" placeholder:"FILE" help:"File that holds the password of the Redis of jobs, where its URL doesn't."`
	JobWorkers            string `default:"1" placeholder:"N" help:"Jobs, calls that are answered later, that are worked on here at the same time, behind all else (${default}). 0, where others do, as “work” runs them."`
}

// serveCommand is the server's configuration.
type serveCommand struct {
	computing

	Listen            string `default:"127.0.0.1:8080" placeholder:"HOST:PORT" help:"Address to listen on (${default})."`
	KeysFile          string `default:"" placeholder:"FILE" help:"File of the keys of those who may call, one on each line, as “keys new” prints them; taken anew when it changes. Left out, everyone may call."`
	RatePerAddress    string `default:"0" placeholder:"UNITS" help:"Where there are no keys: what each address may ask in a minute, in the units that calls cost; 0 for no limit (${default}). Each replica counts on its own."`
	TrustedProxies    string `default:"" placeholder:"NETWORK,…" help:"Addresses or networks of the proxies in front, like 10.0.0.0/8, whose X-Forwarded-For says where a call comes from, for --rate-per-address."`
	CorsOrigins       string `default:"" placeholder:"ORIGIN,…" help:"Origins, like https://league.example, whose pages may call the service from a browser. Left out, none but its own."`
	QueueWait         string `default:"2s" placeholder:"DURATION" help:"How long a computation waits for a worker before 503 (${default})."`
	JobsWaiting       string `default:"100" placeholder:"N" help:"Most jobs that wait or are worked on; further ones get 503 (${default})."`
	TraceEndpoint     string `default:"" placeholder:"URL" help:"Collector that takes traces by OTLP over HTTP, like http://collector:4318. Left out, there are none."`
	TraceRatio        string `default:"1" placeholder:"RATIO" help:"Share of requests that are traced, from 0 to 1 (${default})."`
	ReadHeaderTimeout string `default:"5s" placeholder:"DURATION" help:"Longest time to read a request's header (${default})."`
	StallTimeout      string `default:"10s" placeholder:"DURATION" help:"Longest time in which 64 KiB of a body must come, or of an answer be taken (${default})."`
	ReadTimeout       string `default:"60s" placeholder:"DURATION" help:"Longest time to read a request (${default})."`
	WriteTimeout      string `default:"120s" placeholder:"DURATION" help:"Longest time to take an answer (${default})."`
	IdleTimeout       string `default:"120s" placeholder:"DURATION" help:"Longest time that an unused connection stays open (${default})."`
	MaxHeaderBytes    string `default:"65536" placeholder:"BYTES" help:"Largest request header in bytes (${default})."`
	Connections       string `default:"8192" placeholder:"N" help:"Most connections at the same time; further ones wait (${default})."`
	StopDelay         string `default:"0s" placeholder:"DURATION" help:"How long /readyz says “stopping” before no connection is taken any more (${default})."`
}

// settings are a checked configuration.
type settings struct {
	listen, adminListen                string
	cacheBytes, answerBytes, heldBytes int64
	redisURLs                          []string
	redisPassword                      string
	redisTTL                           time.Duration
	keysFile                           string
	ratePerAddress                     int64
	trustedProxies, corsOrigins        []string
	workers                            int
	queueWait                          time.Duration
	jobWorkers, jobsWaiting            int
	jobTTL                             time.Duration
	jobsRedisURLs                      []string
	jobsRedisPassword                  string
	// jobsOnly is whether nobody is answered but probes.
	jobsOnly                                                  bool
	traceEndpoint                                             string
	traceRatio                                                float64
	logLevel                                                  slog.Level
	readHeaderTimeout, readTimeout, writeTimeout, idleTimeout time.Duration
	stallTimeout                                              time.Duration
	maxHeaderBytes, connections                               int
	stopDelay, stopGrace                                      time.Duration
	// shown are all settings by their flags, as they may be shown.
	shown map[string]string
}

// The bounds of the settings.
const (
	minCacheBytes, maxCacheBytes   = 1 << 20, 1 << 40
	minAnswerBytes                 = 64 << 10
	minHeldBytes, maxHeldBytes     = 256 << 20, 1 << 40 // at least the largest body, as sent and as decoded, in the part for large ones
	maxWorkers                     = 4096
	maxConnections                 = 1 << 20
	maxJobs                        = 100_000
	minHeaderBytes, maxHeaderBytes = 4 << 10, 1 << 20
	maxDuration                    = 24 * time.Hour
	maxTTL                         = 90 * 24 * time.Hour
	maxSecretBytes                 = 4096
)

// check turns the texts into settings, or names every fault in a *usageError.
func (c *serveCommand) check() (settings, error) {
	r := &reader{}
	s := c.computing.read(r, c.Listen)
	s.listen = r.address("listen", c.Listen)
	s.jobWorkers = int(r.integer("job-workers", c.JobWorkers, 0, maxWorkers))
	s.keysFile = r.keysFile("keys-file", c.KeysFile)
	s.ratePerAddress = r.ratePerAddress("rate-per-address", c.RatePerAddress)
	s.trustedProxies = r.list("trusted-proxies", c.TrustedProxies, isNetwork, "addresses or networks like 10.0.0.0/8, apart by commas")
	s.corsOrigins = r.list("cors-origins", c.CorsOrigins, api.CheckOrigin, "origins like https://league.example, apart by commas, each in full: with * any page that someone opens could call")
	s.queueWait = r.duration("queue-wait", c.QueueWait, time.Millisecond)
	s.jobsWaiting = int(r.integer("jobs-waiting", c.JobsWaiting, 1, maxJobs))
	s.traceEndpoint = r.traceEndpoint("trace-endpoint", c.TraceEndpoint)
	s.traceRatio = r.ratio("trace-ratio", c.TraceRatio)
	s.readHeaderTimeout = r.duration("read-header-timeout", c.ReadHeaderTimeout, time.Millisecond)
	s.stallTimeout = r.duration("stall-timeout", c.StallTimeout, time.Millisecond)
	s.readTimeout = r.duration("read-timeout", c.ReadTimeout, time.Millisecond)
	s.writeTimeout = r.duration("write-timeout", c.WriteTimeout, time.Millisecond)
	s.idleTimeout = r.duration("idle-timeout", c.IdleTimeout, time.Millisecond)
	s.maxHeaderBytes = int(r.integer("max-header-bytes", c.MaxHeaderBytes, minHeaderBytes, maxHeaderBytes))
	s.connections = int(r.integer("connections", c.Connections, 1, maxConnections))
	s.stopDelay = r.duration("stop-delay", c.StopDelay, 0)
	s.shown = shown(c)
	r.idle(s)
	return r.result(s)
}

// read turns the texts into settings. The admin listener stands beside one that callers reach.
func (c *computing) read(r *reader, listen string) settings {
	s := settings{
		adminListen:       r.adminAddress("admin-listen", c.AdminListen, listen),
		cacheBytes:        r.integer("cache-bytes", c.CacheBytes, minCacheBytes, maxCacheBytes),
		answerBytes:       r.integer("answer-bytes", c.AnswerBytes, minAnswerBytes, maxCacheBytes),
		heldBytes:         r.integer("held-bytes", c.HeldBytes, minHeldBytes, maxHeldBytes),
		redisPassword:     r.secret("redis-password-file", c.RedisPasswordFile),
		redisTTL:          r.longDuration("redis-ttl", c.RedisTTL, time.Minute, maxTTL),
		workers:           int(r.integer("workers", c.Workers, 0, maxWorkers)),
		jobTTL:            r.longDuration("job-ttl", c.JobTTL, time.Minute, maxDuration),
		jobsRedisPassword: r.secret("jobs-redis-password-file", c.JobsRedisPasswordFile),
		logLevel:          r.level("log-level", c.LogLevel),
		stopGrace:         r.duration("stop-grace", c.StopGrace, 0),
	}
	s.redisURLs = r.redisURLs("redis-url", c.RedisURL, s.redisPassword)
	s.jobsRedisURLs = r.redisURLs("jobs-redis-url", c.JobsRedisURL, s.jobsRedisPassword)
	if len(s.jobsRedisURLs) > 0 && len(s.redisURLs) == 0 {
		r.faults = append(r.faults, errors.New("--jobs-redis-url (PARCOURS_JOBS_REDIS_URL): needs --redis-url, through which those who work on jobs learn of the courses that others analysed"))
	}
	return s
}

// result is the settings where nothing is wrong.
func (r *reader) result(s settings) (settings, error) {
	if len(r.faults) > 0 {
		return settings{}, &usageError{faults: r.faults}
	}
	return s, nil
}

// reader turns texts into values and collects the faults.
type reader struct{ faults []error }

func (r *reader) fault(flag, text, want string) {
	r.faults = append(r.faults, fmt.Errorf("--%s (%s): %q is not %s", flag, environmentTwin(flag), text, want))
}

// environmentTwin is the environment variable of a flag.
func environmentTwin(flag string) string {
	return "PARCOURS_" + strings.ToUpper(strings.ReplaceAll(flag, "-", "_"))
}

// redisURLs reads addresses apart by commas. The fault doesn't repeat them: they may hold a
// password.
func (r *reader) redisURLs(flag, text, password string) []string {
	if text == "" && password == "" {
		return nil
	}
	urls := strings.Split(text, ",")
	if err := cache.Check(urls, password); err != nil {
		r.faults = append(r.faults, fmt.Errorf("--%s (%s): %w", flag, environmentTwin(flag), err))
	}
	return urls
}

// secret reads a file that holds a secret and perhaps the end of its line.
func (r *reader) secret(flag, name string) string {
	if name == "" {
		return ""
	}
	content, err := os.ReadFile(name)
	if err != nil {
		r.faults = append(r.faults, fmt.Errorf("--%s (%s): %w", flag, environmentTwin(flag), err))
		return ""
	}
	secret := strings.TrimRight(string(content), "\r\n")
	if secret == "" || len(secret) > maxSecretBytes {
		r.faults = append(r.faults, fmt.Errorf("--%s (%s): %s doesn't hold a secret of 1 to %d bytes", flag, environmentTwin(flag), name, maxSecretBytes))
	}
	return secret
}

func (r *reader) integer(flag, text string, low, high int64) int64 {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < low || n > high {
		r.fault(flag, text, fmt.Sprintf("a whole number from %d to %d", low, high))
	}
	return n
}

func (r *reader) duration(flag, text string, low time.Duration) time.Duration {
	return r.longDuration(flag, text, low, maxDuration)
}

func (r *reader) longDuration(flag, text string, low, high time.Duration) time.Duration {
	d, err := time.ParseDuration(text)
	if err != nil || d < low || d > high {
		r.fault(flag, text, fmt.Sprintf("a duration from %v to %v, like 500ms or 2s", low, high))
	}
	return d
}

func (r *reader) level(flag, text string) slog.Level {
	levels := map[string]slog.Level{
		"debug": slog.LevelDebug, "info": slog.LevelInfo, "warn": slog.LevelWarn, "error": slog.LevelError,
	}
	level, ok := levels[strings.ToLower(text)]
	if !ok {
		r.fault(flag, text, "one of debug, info, warn and error")
	}
	return level
}

func (r *reader) address(flag, text string) string {
	if err := checkAddress(text); err != nil {
		r.fault(flag, text, "an address: "+err.Error())
	}
	return text
}

func checkAddress(text string) error {
	_, port, err := net.SplitHostPort(text)
	if err != nil {
		return errors.New("write host:port")
	}
	if n, err := strconv.Atoi(port); err != nil || n < 0 || n > 65535 {
		return errors.New("the port is a number from 0 to 65535")
	}
	return nil
}
