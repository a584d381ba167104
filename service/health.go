package main

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"time"
)

// healthWait bounds the question whether the server is ready.
const healthWait = 3 * time.Second

// healthCommand asks the server of the same configuration whether it is ready, for
// containers that hold nothing else that could ask.
type healthCommand struct {
	Listen string `default:"127.0.0.1:8080" placeholder:"HOST:PORT" help:"Address that the server listens on (${default})."`
}

// Run fails where the server doesn't answer, or says that it isn't ready.
func (c *healthCommand) Run(std streams) error {
	if err := checkAddress(c.Listen); err != nil {
		return &usageError{faults: []error{fmt.Errorf("--listen (PARCOURS_LISTEN): %q is not an address: %w", c.Listen, err)}}
	}
	ctx, cancel := context.WithTimeout(context.Background(), healthWait)
	defer cancel()
	// A host that stands for every address is this machine when it is dialled.
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+c.Listen+"/readyz", nil)
	if err != nil {
		return err
	}
	reply, err := (&http.Client{Transport: &http.Transport{DisableKeepAlives: true}}).Do(request) // past any proxy
	if err != nil {
		return err
	}
	defer reply.Body.Close()
	if reply.StatusCode != http.StatusOK {
		return fmt.Errorf("the server isn't ready: /readyz answers %s", reply.Status)
	}
	_, err = io.Copy(std.out, reply.Body)
	return err
}
