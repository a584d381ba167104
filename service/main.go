// Command service is Parcours' server. Without a command it serves HTTP; `work`
// works on the calls that are answered later, `brief`
// prints the write-up of one course file without a server, `health` asks a server whether
// it is ready, `keys new` makes a key for one who may call it.
//
// Exit codes: 0 done, 1 the work failed, 2 the command line or the configuration
// is wrong.
package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/alecthomas/kong"

	"parcours.example/analysis"
)

// The exit codes.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
)

// commands is the command line.
type commands struct {
	Version kong.VersionFlag `env:"-" help:"Print the engine's version and exit."`

	Serve  serveCommand  `cmd:"" default:"withargs" help:"Serve HTTP (the default)."`
	Work   workCommand   `cmd:"" help:"Work on jobs, calls that are answered later, which servers accept through a Redis."`
	Brief  briefCommand  `cmd:"" help:"Print the brief of a course file, without a server."`
	Health healthCommand `cmd:"" help:"Ask the server whether it is ready; exit code 0 if it is."`
	Keys   keysCommand   `cmd:"" help:"Keys of those who may call the server."`
}

func main() {
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// run is main without the process around it. It returns the exit code.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	var cli commands
	ended := false
	parser, err := newParser(&cli,
		kong.Writers(stdout, stderr),
		kong.Exit(func(int) { ended = true }),
		kong.Bind(streams{in: stdin, out: stdout, err: stderr}),
	)
	if err != nil {
		fmt.Fprintln(stderr, "parcours:", err)
		return exitFailed
	}
	command, err := parser.Parse(args)
	if ended { // --help or --version
		return exitDone
	}
	if err != nil {
		fmt.Fprintln(stderr, "parcours:", err)
		fmt.Fprintln(stderr, "See --help.")
		return exitUsage
	}
	return exitCode(command.Run(), stderr)
}

// newParser returns the command line's parser. Every flag has its twin in the
// environment: --stop-delay is PARCOURS_STOP_DELAY.
func newParser(cli *commands, more ...kong.Option) (*kong.Kong, error) {
	return kong.New(cli, append([]kong.Option{
		kong.Name("parcours"),
		kong.Description("What a bike race's course file holds: how the course is built, and how long riders take.\n\n" +
			"Exit codes: 0 done, 1 the work failed, 2 the command line or the configuration is wrong."),
		kong.Vars{"version": analysis.EngineVersion},
		kong.DefaultEnvars("PARCOURS"),
	}, more...)...)
}

// streams are a command's standard streams.
type streams struct {
	in       io.Reader
	out, err io.Writer
}

// exitCode says what went wrong, if anything did, and turns it into an exit code.
func exitCode(err error, stderr io.Writer) int {
	if err == nil {
		return exitDone
	}
	fmt.Fprintln(stderr, "parcours:", err)
	if _, ok := errors.AsType[*usageError](err); ok {
		return exitUsage
	}
	return exitFailed
}
