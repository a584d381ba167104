package main

import (
	"fmt"

	"parcours.example/service/keys"
	"parcours.example/service/quota"
)

// keysCommand makes keys.
type keysCommand struct {
	New newKeyCommand `cmd:"" help:"Make a key for a client. The line for the file of keys goes to standard output, the key itself to standard error: it is shown this once and kept nowhere."`
}

// newKeyCommand makes one key.
type newKeyCommand struct {
	Client    string `required:"" env:"-" placeholder:"NAME" help:"What the client is called: a-z, 0-9, dot, hyphen and underscore. It stands in the log, so don't name a person."`
	PerMinute int64  `env:"-" placeholder:"UNITS" help:"The client's quota for a minute; left out, none."`
	PerDay    int64  `env:"-" placeholder:"UNITS" help:"The client's quota for a day; left out, none."`
}

// Validate checks the client; the parser calls it.
func (c *newKeyCommand) Validate() error {
	if err := keys.CheckName(c.Client); err != nil {
		return fmt.Errorf("--client: %w", err)
	}
	if err := keys.CheckLimits(c.limits()); err != nil {
		return fmt.Errorf("--per-minute, --per-day: %w", err)
	}
	return nil
}

func (c *newKeyCommand) limits() quota.Limits {
	return quota.Limits{PerMinute: c.PerMinute, PerDay: c.PerDay}
}

// Run prints a fresh key and its line.
func (c *newKeyCommand) Run(std streams) error {
	key := keys.New()
	if _, err := fmt.Fprintln(std.err, key); err != nil {
		return err
	}
	_, err := fmt.Fprintln(std.out, keys.Line(keys.Client{Name: c.Client, Limits: c.limits()}, key))
	return err
}
