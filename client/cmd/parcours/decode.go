package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
)

// decodeWhole reads one JSON value whose fields are all known, and nothing behind it.
func decodeWhole(from io.Reader, into any) error {
	in := json.NewDecoder(from)
	in.DisallowUnknownFields()
	if err := in.Decode(into); err != nil {
		if of, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
			return fmt.Errorf("%s is a %s, which it can't be", of.Field, of.Value)
		}
		return errors.New(strings.TrimPrefix(err.Error(), "json: "))
	}
	if _, err := in.Token(); !errors.Is(err, io.EOF) {
		return errors.New("something stands behind the request")
	}
	return nil
}
