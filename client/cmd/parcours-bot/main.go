// Command parcours-bot posts the briefs of a season's courses with their pictures into chat
// rooms (XMPP) and to webhooks, on a schedule, and answers questions about them: "how long for
// 72 kg at 280 W?".
//
// Exit codes: 0 done or stopped, 1 something failed, 2 the command line or the configuration
// is wrong.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"github.com/alecthomas/kong"

	"parcours.example/client"
	"parcours.example/client/local"
)

// The exit codes.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
)

// commandLine is the command line.
type commandLine struct {
	Config  string `arg:"" env:"PARCOURS_CONFIG" help:"The configuration, a file in TOML."`
	Check   bool   `help:"Hold the configuration against its files, the service and the chat server, say what is wrong, and end."`
	Server  string `default:"" placeholder:"URL" help:"The service to ask, like https://courses.example."`
	Local   bool   `help:"Ask the engine within this program instead of a server."`
	KeyFile string `default:"" placeholder:"FILE" help:"File that holds the key for the server."`

	LogLevel slog.Level `default:"info" placeholder:"LEVEL" help:"Least level that is logged: debug, info, warn or error (${default})."`
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// run is main without the process around it. It returns the exit code.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	var cli commandLine
	ended := false
	parser, err := kong.New(&cli,
		kong.Name("parcours-bot"),
		kong.Description("Posts the briefs of a season's courses into chat rooms and to webhooks, and answers questions about them.\n\n"+
			"Exit codes: 0 done or stopped, 1 something failed, 2 the command line or the configuration is wrong."),
		kong.DefaultEnvars("PARCOURS"), kong.Writers(stdout, stderr), kong.Exit(func(int) { ended = true }))
	if err != nil {
		fmt.Fprintln(stderr, "parcours-bot:", err)
		return exitFailed
	}
	if _, err := parser.Parse(args); ended { // --help
		return exitDone
	} else if err != nil {
		fmt.Fprintln(stderr, "parcours-bot:", err)
		fmt.Fprintln(stderr, "See --help.")
		return exitUsage
	}
	return exitCode(cli.run(ctx, stdout, stderr), stderr)
}

func exitCode(err error, stderr io.Writer) int {
	if err == nil {
		return exitDone
	}
	fmt.Fprintln(stderr, "parcours-bot:", err)
	if _, wrong := errors.AsType[*usageError](err); wrong {
		return exitUsage
	}
	return exitFailed
}

// usageError names everything that is wrong in a command line or a configuration.
type usageError struct{ faults []error }

// Error implements error.
func (e *usageError) Error() string { return "the configuration is wrong:" + listed(e.faults) }

// listed writes faults below each other.
func listed(faults []error) string {
	var b strings.Builder
	for _, fault := range faults {
		b.WriteString("\n  " + fault.Error())
	}
	return b.String()
}

// run checks everything and then either says that it holds or is the bot until ctx ends.
func (c *commandLine) run(ctx context.Context, stdout, stderr io.Writer) error {
	s, faults := readSettings(c.Config)
	asked, closeService, err := c.service(ctx)
	if err != nil {
		faults = append(faults, err)
	}
	if len(faults) > 0 {
		return &usageError{faults}
	}
	defer closeService()
	logger := slog.New(slog.NewJSONHandler(stderr, &slog.HandlerOptions{Level: c.LogLevel}))
	b := newBot(s, asked, logger)
	if c.Check {
		return b.check(ctx, stdout)
	}
	return b.run(ctx)
}

// service returns the client of the service to ask, and what frees it.
func (c *commandLine) service(ctx context.Context) (*client.Client, func(), error) {
	options := []client.Option{client.WithUserAgent("parcours-bot")}
	switch {
	case c.Local && (c.Server != "" || c.KeyFile != ""):
		return nil, nil, errors.New("--local asks no server: leave --server and --key-file out")
	case c.Local:
		return local.New(ctx, options...)
	case c.Server == "":
		return nil, nil, errors.New("--server (PARCOURS_SERVER) or --local says who computes")
	case c.KeyFile != "":
		key, err := readSecret(c.KeyFile)
		if err != nil {
			return nil, nil, fmt.Errorf("--key-file (PARCOURS_KEY_FILE): %w", err)
		}
		options = append(options, client.WithKey(key))
	}
	asked, err := client.New(c.Server, options...)
	return asked, func() {}, err
}
