package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"parcours.example/client"
)

// raw prints the last answer as the service sent it, with an end of line.
func (s *session) raw() error {
	body := bytes.TrimRight(s.wire.last.Bytes(), "\n")
	_, err := s.std.out.Write(append(body, '\n'))
	return err
}

// show prints an answer in the form that is asked for: as it came, as the table for
// spreadsheets, or for people.
func (s *session) show(spreadsheet func(io.Writer) error, people func()) error {
	switch {
	case s.look.JSON:
		return s.raw()
	case s.look.CSV:
		return spreadsheet(s.std.out)
	}
	people()
	return nil
}

// say prints lines of words for people.
func (s *session) say(lines ...string) {
	for _, line := range lines {
		if line != "" {
			fmt.Fprintln(s.std.out, s.screen.wrap(plain(line), ""))
		}
	}
}

// gap prints an empty line.
func (s *session) gap() { fmt.Fprintln(s.std.out) }

// heading prints a line of its own above what follows.
func (s *session) heading(words string) { fmt.Fprintln(s.std.out, s.screen.style(bold, plain(words))) }

// listed prints things one below the other under a heading; nothing where there are none.
func (s *session) listed(title string, things []string) {
	if len(things) == 0 {
		return
	}
	s.gap()
	s.heading(title)
	for _, thing := range things {
		fmt.Fprintln(s.std.out, s.screen.wrap("- "+plain(thing), "  "))
	}
}

// pictureFlags say how a picture is drawn and where it goes.
type pictureFlags struct {
	Picture string `group:"look" placeholder:"FILE" type:"path" help:"Draw a picture into this file, whose name ends in .svg or .png."`
	Width   int    `group:"look" placeholder:"PX" help:"The picture's width."`
	Height  int    `group:"look" placeholder:"PX" help:"The picture's height."`
	Theme   string `group:"look" enum:"light,dark,print," default:"" placeholder:"THEME" help:"The picture's colours: light, dark or print."`
}

// form is the form of the picture that is asked for.
func (f pictureFlags) form() (client.PictureForm, error) {
	switch strings.ToLower(filepath.Ext(f.Picture)) {
	case ".svg":
		return client.SVG, nil
	case ".png":
		return client.PNG, nil
	}
	return "", wrongUsage("--picture: a picture's name ends in .svg or .png, not as %q does", f.Picture)
}

// check refuses a picture that can't be drawn, before anything is computed.
func (f pictureFlags) check() error {
	if f.Picture == "" {
		if f.Width != 0 || f.Height != 0 || f.Theme != "" {
			return wrongUsage("--width, --height and --theme say how a --picture is drawn; name its file")
		}
		return nil
	}
	_, err := f.form()
	return err
}

// write writes the picture, whole or not at all.
func (f pictureFlags) write(picture []byte) error {
	dir, name := filepath.Split(f.Picture)
	part, err := os.CreateTemp(dir, "."+name+"-*")
	if err != nil {
		return fmt.Errorf("--picture: %w", err)
	}
	_, err = part.Write(picture)
	if ended := part.Close(); err == nil {
		err = ended
	}
	if err == nil {
		err = os.Chmod(part.Name(), 0o644) //nolint:gosec // a picture for all who may read the folder
	}
	if err == nil {
		err = os.Rename(part.Name(), f.Picture)
	}
	if err != nil {
		_ = os.Remove(part.Name()) // what is left of a failure
		return fmt.Errorf("--picture: %w", err)
	}
	return nil
}

// given is a value that was given, nil for one that wasn't.
func given[T comparable](v T) *T {
	var none T
	if v == none {
		return nil
	}
	return &v
}
