package main

import (
	"context"
	"encoding/json"
	"fmt"

	"parcours.example/client"
)

// serverCommand tells what a server says of itself.
type serverCommand struct {
	Ready    readyCommand    `cmd:"" help:"Whether it takes work; exit code 0 if it does."`
	Live     liveCommand     `cmd:"" help:"Whether it runs at all; exit code 0 if it does."`
	Contract contractCommand `cmd:"" help:"The contract that it keeps, as YAML."`
	Metrics  metricsCommand  `cmd:"" help:"Its metrics in the text format of Prometheus."`
	Demo     demoCommand     `cmd:"" help:"A course file of the invented season."`
}

type (
	readyCommand    struct{}
	liveCommand     struct{}
	contractCommand struct{}
	metricsCommand  struct{}
	demoCommand     struct {
		Name string `arg:"" help:"The file's name, as the service's page has it."`
	}
)

// Run asks and prints.
func (readyCommand) Run(s *session) error { return health(s, (*client.Client).Ready) }

// Run asks and prints.
func (liveCommand) Run(s *session) error { return health(s, (*client.Client).Live) }

// Run asks and prints.
func (contractCommand) Run(s *session) error { return verbatim(s, (*client.Client).Contract) }

// Run asks and prints.
func (metricsCommand) Run(s *session) error { return verbatim(s, (*client.Client).Metrics) }

// Run asks and prints.
func (c demoCommand) Run(s *session) error {
	return verbatim(s, func(service *client.Client, ctx context.Context) ([]byte, error) { //nolint:revive // as methods of the client are
		return service.Demo(ctx, c.Name)
	})
}

// verbatim prints what is answered.
func verbatim(s *session, ask func(*client.Client, context.Context) ([]byte, error)) error {
	service, err := s.ask()
	if err != nil {
		return err
	}
	body, err := ask(service, s.ctx)
	if err == nil {
		_, err = s.std.out.Write(body)
	}
	return err
}

// health prints how the service is.
func health[Health any](s *session, ask func(*client.Client, context.Context) (*Health, error)) error {
	service, err := s.ask()
	if err != nil {
		return err
	}
	answer, err := ask(service, s.ctx)
	if err != nil {
		return err
	}
	if s.look.JSON {
		return s.raw()
	}
	content, err := json.Marshal(answer)
	if err == nil {
		fields := map[string]string{}
		if err = json.Unmarshal(content, &fields); err == nil {
			s.say(fmt.Sprintf("%s, engine version %s", fields["status"], fields["engine_version"]))
			if fields["cache"] != "" {
				s.say("cache: " + fields["cache"])
			}
		}
	}
	return err
}
