package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"runtime/debug"
	"strings"
	"time"

	"parcours.example/client"
	"parcours.example/client/local"
)

// serviceFlags say who answers.
type serviceFlags struct {
	Server  string        `group:"service" default:"http://127.0.0.1:8080" placeholder:"URL" help:"The service's address (${default})."`
	Local   bool          `group:"service" help:"Compute here, without a server."`
	KeyFile string        `group:"service" placeholder:"FILE" type:"path" help:"File that holds the key to send, where the service asks for one."`
	Timeout time.Duration `group:"service" placeholder:"DURATION" help:"Give up after this time, like 30s. Left out, never."`
}

// lookFlags say what is printed.
type lookFlags struct {
	JSON  bool   `group:"look" name:"json" xor:"form" help:"Print the service's answer as it came."`
	CSV   bool   `group:"look" name:"csv" xor:"form" help:"Print a table for a spreadsheet, in SI units as the service answers them."`
	Units string `group:"look" enum:"metric,imperial" default:"metric" help:"The units of tables, texts and pictures for people: metric or imperial (${default})."`
}

// session is one run of a command: whom it asks, and how it prints.
type session struct {
	ctx    context.Context
	leave  context.CancelFunc
	flags  serviceFlags
	look   lookFlags
	units  units
	std    streams
	screen screen
	files  places
	// wire keeps what the service answers; client and end are made by the first call.
	wire   *recorder
	client *client.Client
	end    func()
}

func newSession(ctx context.Context, cli *commands, std streams) *session {
	s := &session{
		flags: cli.Service, look: cli.Look, units: units{imperial: cli.Look.Units == "imperial"}, std: std,
		screen: screenOf(std.out), files: places{}, end: func() {},
	}
	if s.flags.Timeout > 0 {
		s.ctx, s.leave = context.WithTimeout(ctx, s.flags.Timeout)
	} else {
		s.ctx, s.leave = context.WithCancel(ctx)
	}
	return s
}

// close waits for what this process still computes.
func (s *session) close() {
	s.leave()
	s.end()
}

// agentName is this program's name and version, for the service's log.
func agentName() string {
	version := "devel"
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		version = strings.Trim(info.Main.Version, "()")
	}
	return "parcours/" + version
}

// ask returns the client of the service that is asked.
func (s *session) ask() (*client.Client, error) {
	if s.client != nil {
		return s.client, nil
	}
	options := []client.Option{client.WithUserAgent(agentName())}
	if s.flags.KeyFile != "" {
		key, err := os.ReadFile(s.flags.KeyFile)
		if err != nil {
			return nil, fmt.Errorf("--key-file: %w", err)
		}
		options = append(options, client.WithKey(strings.TrimSpace(string(key))))
	}
	var err error
	if s.flags.Local {
		err = s.askHere(options)
	} else {
		s.wire = &recorder{over: http.DefaultTransport}
		s.client, err = client.New(s.flags.Server, append(options, s.overWire())...)
		if err != nil {
			err = wrongUsage("--server: %s", strings.TrimPrefix(err.Error(), "client: "))
		}
	}
	return s.client, err
}

// overWire sends requests through what keeps the answers.
func (s *session) overWire() client.Option {
	return client.WithHTTPClient(&http.Client{Transport: s.wire})
}

// askHere asks the service within this process.
func (s *session) askHere(options []client.Option) error {
	here, err := local.Open()
	if err != nil {
		return err
	}
	s.end = here.Close
	s.wire = &recorder{over: here}
	s.client, err = here.Client(append(options, s.overWire())...)
	return err
}

// recorder is a transport that keeps the body of the last answer.
type recorder struct {
	over http.RoundTripper
	// last is the body of the last answer as far as it has been read.
	last bytes.Buffer
	// to takes what is read at once, in the place of last, where it isn't nil.
	to io.Writer
}

// RoundTrip implements http.RoundTripper.
func (r *recorder) RoundTrip(request *http.Request) (*http.Response, error) {
	reply, err := r.over.RoundTrip(request)
	if err != nil || reply.StatusCode != http.StatusOK {
		return reply, err
	}
	r.last.Reset()
	to := r.to
	if to == nil {
		to = &r.last
	}
	reply.Body = struct {
		io.Reader
		io.Closer
	}{io.TeeReader(reply.Body, to), reply.Body}
	return reply, nil
}
