// Command parcours asks a Parcours service, or the engine within it, about bike races' courses:
// how one is built, how long riders take, where to spend power, which set-up to choose, how a
// race is likely to go, and how the rounds of a season compare.
//
// Exit codes: 0 done, 1 something failed, 2 the command line is wrong, 130 interrupted.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/alecthomas/kong"
)

// The exit codes.
const (
	exitDone        = 0
	exitFailed      = 1
	exitUsage       = 2
	exitInterrupted = 130 // as shells have it: 128 and the signal's number
)

// commands is the command line.
type commands struct {
	Version kong.VersionFlag `env:"-" help:"Print the program's version and exit."`

	Service serviceFlags `embed:""`
	Look    lookFlags    `embed:""`

	Analyse  analyseCommand  `cmd:"" help:"How courses are built: laps, parts, climbs, marks, and what is odd in their files."`
	Brief    briefCommand    `cmd:"" help:"The write-up of a course, to post."`
	Draw     drawCommand     `cmd:"" help:"A picture of a course, one of its climbs, its laps or its map."`
	Predict  predictCommand  `cmd:"" help:"How long riders take."`
	Plan     planCommand     `cmd:"" help:"Where to spend power and where to save it."`
	Compare  compareCommand  `cmd:"" help:"Which set-up serves which ambition, and whether to change it midway."`
	Launch   launchCommand   `cmd:"" help:"When to start a sprint."`
	Aid      aidCommand      `cmd:"" help:"Where an aid that lasts for a while gains most."`
	Race     raceCommand     `cmd:"" help:"How a race of many riders is likely to go."`
	Season   seasonCommand   `cmd:"" help:"All rounds of a season at once, and how they compare."`
	After    afterCommand    `cmd:"" help:"How rides went against their predictions, out of recordings, and what they tell of their riders."`
	Fit      fitCommand      `cmd:"" help:"What a rider can do, from hard efforts."`
	Assemble assembleCommand `cmd:"" help:"One course out of several files."`
	Server   serverCommand   `cmd:"" help:"What a server says of itself."`

	Completion completionCommand `cmd:"" help:"Print a script that completes this command line in a shell."`
}

func main() {
	os.Exit(run(os.Args[1:], streams{os.Stdin, os.Stdout, os.Stderr}))
}

// streams are a command's standard streams.
type streams struct {
	in       io.Reader
	out, err io.Writer
}

// run is main without the process around it. It returns the exit code.
func run(args []string, std streams) int {
	var cli commands
	ended := false
	parser, err := newParser(&cli, kong.Writers(std.out, std.err), kong.Exit(func(int) { ended = true }))
	if err != nil {
		fmt.Fprintln(std.err, "parcours:", err)
		return exitFailed
	}
	command, err := parser.Parse(args)
	if ended { // --help or --version
		return exitDone
	}
	if err != nil {
		fmt.Fprintln(std.err, "parcours:", err)
		fmt.Fprintln(std.err, "See --help.")
		return exitUsage
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second one ends at once
	s := newSession(ctx, &cli, std)
	defer s.close()
	return s.exitCode(command.Run(s, parser))
}

// newParser returns the command line's parser. Every flag has its twin in the environment:
// --key-file is PARCOURS_KEY_FILE.
func newParser(cli *commands, more ...kong.Option) (*kong.Kong, error) {
	return kong.New(cli, append([]kong.Option{
		kong.Name("parcours"),
		kong.Description("What a bike race's course file holds, and what it comes to for those who race on it.\n\n" +
			"Exit codes: 0 done; 1 something failed, also one of several files; 2 the command line is wrong; 130 interrupted."),
		kong.Vars{"version": agentName()},
		kong.DefaultEnvars("PARCOURS"),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
		kong.ExplicitGroups([]kong.Group{
			{Key: "course", Title: "How files are read:"},
			{Key: "riders", Title: "Riders and set-ups:"},
			{Key: "effort", Title: "How they ride (one of these; left out, each at their own power):"},
			{Key: "conditions", Title: "Conditions:"},
			{Key: "service", Title: "Who answers:"},
			{Key: "look", Title: "What is printed:"},
		}),
	}, more...)...)
}

// usageError is a command line that can't be carried out.
type usageError struct{ error }

// Unwrap returns what is wrong.
func (e usageError) Unwrap() error { return e.error }

// wrongUsage says what is wrong with the command line.
func wrongUsage(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// errTold says that something failed, and that what it was has been told.
var errTold = errors.New("told already")
