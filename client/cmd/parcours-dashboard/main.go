// Command parcours-dashboard serves a page with what a season comes to for a roster: how long
// each rider takes over each round, which rounds suit whom, and what each round is like. It asks
// a Parcours service, or the engine within it, when the files of the season, the roster or the
// service's engine change, and shows the last answer with its age until the next one has come.
//
// Exit codes: 0 done, 1 something failed, 2 the command line is wrong.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"strings"
	"sync"
	"syscall"
	"time"

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

// dashboard is the command line.
type dashboard struct {
	Version kong.VersionFlag `env:"-" help:"Print the program's version and exit."`

	Folder   string `arg:"" type:"path" help:"Folder with the season's route files, one for each round. They are taken in the order of their names, in which numbers count as numbers."`
	Riders   string `type:"path" placeholder:"FILE" help:"The roster: CSV whose first line names the columns, as name,mass_kg,power_w,critical_power_w,w_prime_j. Riders ride at their power_w or, where all have critical power and W′ instead, in the least time that they can."`
	Question string `type:"path" placeholder:"FILE" help:"What else is asked of each round, as JSON: a SeasonQuestion of the service's contract, with setups, conditions, an effort of all, or the riders."`
	Title    string `placeholder:"TEXT" help:"What the season is called. Left out, the folder's name."`

	Server  string `default:"http://127.0.0.1:8080" placeholder:"URL" help:"The service's address (${default})."`
	Local   bool   `help:"Compute here, without a server."`
	KeyFile string `type:"path" placeholder:"FILE" help:"File that holds the key to send, where the service asks for one."`

	Listen     string        `env:"PARCOURS_DASHBOARD_LISTEN" default:"127.0.0.1:8090" placeholder:"HOST:PORT" help:"Where the page is served (${default}). It asks for no password: whoever gets there sees the riders' names and times. Leave it on this machine, or put a proxy in front that asks for one."`
	Every      time.Duration `default:"10s" placeholder:"DURATION" help:"How often files and service are looked at, 1s or more (${default}). Where nothing has changed nothing is computed."`
	ShowRiders bool          `help:"Show the riders' masses and powers as well."`
}

// Validate checks the settings; the parser calls it.
func (d *dashboard) Validate() error {
	if d.Every < time.Second {
		return fmt.Errorf("--every: %v is less than 1s", d.Every)
	}
	if d.Riders == "" && d.Question == "" {
		return errors.New("--riders: give a roster, or riders in --question")
	}
	return nil
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second one ends at once
	code := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// run is main without the process around it. It returns the exit code.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	var d dashboard
	ended := false
	parser, err := kong.New(&d,
		kong.Name("parcours-dashboard"),
		kong.Description("A page with what a season comes to for a roster of riders.\n\n"+
			"Exit codes: 0 done, 1 something failed, 2 the command line is wrong."),
		kong.Vars{"version": agentName()},
		kong.DefaultEnvars("PARCOURS"),
		kong.Writers(stdout, stderr),
		kong.Exit(func(int) { ended = true }),
	)
	if err != nil {
		fmt.Fprintln(stderr, "parcours-dashboard:", err)
		return exitFailed
	}
	_, err = parser.Parse(args)
	if ended { // --help or --version
		return exitDone
	}
	if err != nil {
		fmt.Fprintf(stderr, "parcours-dashboard: %v\nSee --help.\n", err)
		return exitUsage
	}
	if err := d.serve(ctx, slog.New(slog.NewTextHandler(stderr, nil))); err != nil {
		fmt.Fprintln(stderr, "parcours-dashboard:", err)
		if _, ok := errors.AsType[*usageError](err); ok {
			return exitUsage
		}
		return exitFailed
	}
	return exitDone
}

// usageError is a command line that can't be carried out.
type usageError struct{ error }

// serve serves the page until the context ends.
func (d *dashboard) serve(ctx context.Context, logger *slog.Logger) error {
	in := &inputs{folder: d.Folder, riders: d.Riders, question: d.Question, now: time.Now}
	if _, err := in.read(); err != nil {
		return &usageError{err}
	}
	asked, end, err := d.client()
	if err != nil {
		return err
	}
	defer end()
	listener, err := new(net.ListenConfig).Listen(ctx, "tcp", d.Listen)
	if err != nil {
		return fmt.Errorf("--listen: %w", err)
	}
	title := d.Title
	if title == "" {
		title = titleOf(filepath.ToSlash(d.Folder))
	}
	shown := newBoard(title, d.ShowRiders, time.Now)
	keep := &refresher{inputs: in, board: shown, service: asked, logger: logger, now: time.Now, every: d.Every}
	page := &web{board: shown, pictures: &pictures{asked, in.open}, anyHost: !isLoopback(d.Listen)}
	logger.Info("the page is served", "url", "http://"+listener.Addr().String()+"/")

	ctx, leave := context.WithCancel(ctx)
	var looking sync.WaitGroup
	looking.Go(func() { keep.run(ctx) })
	defer looking.Wait()
	defer leave()
	return serveUntil(ctx, listener, page.handler())
}

// client returns the client of the service that is asked, and what frees it.
func (d *dashboard) client() (asked *client.Client, end func(), err error) {
	options := []client.Option{client.WithUserAgent(agentName())}
	if d.KeyFile != "" {
		key, err := os.ReadFile(d.KeyFile)
		if err != nil {
			return nil, nil, &usageError{fmt.Errorf("--key-file: %w", err)}
		}
		options = append(options, client.WithKey(strings.TrimSpace(string(key))))
	}
	if d.Local {
		return local.New(context.Background(), options...)
	}
	if asked, err = client.New(d.Server, options...); err != nil {
		err = &usageError{fmt.Errorf("--server: %w", err)}
	}
	return asked, func() {}, err
}

// stopGrace is how long requests may take that are under way when the program stops.
const stopGrace = 5 * time.Second

// serveUntil serves a handler until the context ends.
func serveUntil(ctx context.Context, listener net.Listener, handler http.Handler) error {
	server := &http.Server{
		Handler: handler, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second,
		WriteTimeout: 2 * time.Minute, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 256 << 10, // exports name what they hold
	}
	stopped := make(chan error, 1)
	go func() {
		<-ctx.Done()
		grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopGrace)
		defer cancel()
		stopped <- server.Shutdown(grace)
	}()
	if err := server.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return <-stopped
}

// agentName is this program's name and version, for the service's log.
func agentName() string {
	version := "devel"
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		version = strings.Trim(info.Main.Version, "()")
	}
	return "parcours-dashboard/" + version
}
