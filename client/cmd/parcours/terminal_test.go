package main

import (
	"bytes"
	"errors"
	"io"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"

	"github.com/creack/pty"

	"parcours.example/internal/golden"
)

// program is a process of the program: the test's own binary.
func program(t *testing.T, environment []string, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.CommandContext(t.Context(), self, args...) //nolint:gosec // the test's own binary
	c.Env = append(os.Environ(), asProgram+"=1", "TERM=xterm", unstyled+"=")
	c.Env = append(c.Env, environment...)
	return c
}

// onTerminal runs the program in a terminal of 80 columns until it ends, and returns what
// stands there and the exit code. Each piece of output goes to seen, which may type.
func onTerminal(t *testing.T, c *exec.Cmd, seen func(terminal io.Writer, output string)) (output string, code int) {
	t.Helper()
	terminal, err := pty.StartWithSize(c, &pty.Winsize{Rows: 25, Cols: 80})
	if err != nil {
		t.Skipf("no terminal here: %v", err)
	}
	defer terminal.Close()
	var all bytes.Buffer
	piece := make([]byte, 4096)
	for {
		n, err := terminal.Read(piece)
		all.Write(piece[:n])
		if seen != nil {
			seen(terminal, all.String())
		}
		if err != nil { // EIO, once nobody has it open
			break
		}
	}
	return strings.ReplaceAll(all.String(), "\r\n", "\n"), codeOf(t, c.Wait())
}

// codeOf is a process's exit code.
func codeOf(t *testing.T, err error) int {
	t.Helper()
	if err == nil {
		return 0
	}
	ended, ok := errors.AsType[*exec.ExitError](err)
	if !ok {
		t.Fatal(err)
	}
	return ended.ExitCode()
}

// A terminal is kept within its width, and styled; nothing is without the style.
func TestTerminal(t *testing.T) {
	args := []string{"analyse", laps, "--server", address}
	styled, code := onTerminal(t, program(t, nil, args...), nil)
	if code != 0 {
		t.Errorf("exit code %d: %s", code, styled)
	}
	bare, _ := onTerminal(t, program(t, []string{unstyled + "=1"}, args...), nil)
	if strings.Contains(bare, "\x1b") || !strings.Contains(styled, "\x1b[1mParts") {
		t.Errorf("without styles\n%q\nwith them\n%q", bare, styled)
	}
	for _, style := range []string{bold, dim, "0"} {
		styled = strings.ReplaceAll(styled, "\x1b["+style+"m", "")
	}
	if styled != bare {
		t.Errorf("the styles change the text\n%s\n%s", styled, bare)
	}
	for _, line := range strings.Split(bare, "\n") {
		if wide(line) > 80 {
			t.Errorf("%d columns: %s", wide(line), line)
		}
	}
	golden.Check(t, "terminal.txt", bare)
}

// A bar shows on a terminal how far the work is, and is gone when it is done; into a pipe goes
// nothing of it.
func TestProgressIsForTerminals(t *testing.T) {
	args := []string{"race", criterium, "--rider", nour, "--rider", bram, "--runs", "300", "--server", address}
	output, code := onTerminal(t, program(t, nil, args...), nil)
	if code != 0 || !strings.Contains(output, "racing") || !strings.Contains(output, "/300") {
		t.Errorf("exit code %d: %q", code, output)
	}
	piped := program(t, nil, args...)
	var out, errs bytes.Buffer
	piped.Stdout, piped.Stderr = &out, &errs
	if err := piped.Run(); err != nil || errs.Len() > 0 || strings.Contains(out.String(), "racing ") || strings.Contains(out.String(), "\r") {
		t.Errorf("%v, %q, %q", err, errs.String(), out.String())
	}
}

// Ctrl-C ends the work and says so to the shell.
func TestInterrupt(t *testing.T) {
	typed := false
	args := []string{"race", laps, "--rider", nour, "--rider", bram, "--runs", "2000", "--local"}
	output, code := onTerminal(t, program(t, nil, args...), func(terminal io.Writer, output string) {
		if !typed && strings.Contains(output, "racing") {
			typed = true
			if _, err := io.WriteString(terminal, "\x03"); err != nil {
				t.Error(err)
			}
		}
	})
	if !typed || code != exitInterrupted {
		t.Errorf("typed: %t, exit code %d: %q", typed, code, output)
	}
}

// Who reads no further, like head, has the program end without a word.
func TestReaderLeaves(t *testing.T) {
	read, write, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	c := program(t, nil, "analyse", laps, "--server", address)
	var errs bytes.Buffer
	c.Stdout, c.Stderr = write, &errs
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	_ = write.Close()
	_ = read.Close()
	err = c.Wait()
	ended, ok := errors.AsType[*exec.ExitError](err)
	if !ok || errs.Len() > 0 {
		t.Fatalf("%v, %q", err, errs.String())
	}
	if status, ok := ended.Sys().(syscall.WaitStatus); !ok || status.Signal() != syscall.SIGPIPE {
		t.Errorf("%v, want that the pipe ended it", ended)
	}
}

// The script for bash completes commands, flags and their values.
func TestCompletionInBash(t *testing.T) {
	bash, err := exec.LookPath("bash")
	if err != nil {
		t.Skip("no bash here")
	}
	script := file(t, "completion.bash", done(t, "completion", "bash"))
	for line, want := range map[string]string{
		"parcours an":                           "analyse",
		"parcours server ":                      "ready live contract metrics demo",
		"parcours server --j":                   "--json",
		"parcours predict --split":              "--splits",
		"parcours predict x.gpx --units ":       "metric imperial",
		"parcours predict x.gpx --units = i":    "imperial",
		"parcours --units metric analyse --lap": "--laps --lap-line",
		"parcours completion ":                  "bash zsh fish",
		"parcours analyse --mark ":              "",
		"parcours fit --smoothing ":             "",
	} {
		words := strings.Split(line, " ")
		ask := `source "$1"; shift; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _parcours; echo "${COMPREPLY[*]}"`
		got, err := exec.CommandContext(t.Context(), bash, append([]string{"--norc", "-c", ask, "bash", script}, words...)...).CombinedOutput() //nolint:gosec // the test's own
		if err != nil || strings.TrimSpace(string(got)) != want {
			t.Errorf("%q: %q, %v; want %q", line, got, err, want)
		}
	}
}
