package engine

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"parcours.example/analysis/track"
)

// shortForm is a kind of text of comma-separated key=value, as query parameters and
// flags take it. Its faults are *Error with CodeInvalid and the parameter.
type shortForm struct {
	// parameter is the query parameter's name and that of the thing; example is one.
	parameter, example string
}

// each takes every key, in lower case and at most once, with its value.
func (f shortForm) each(text string, take func(key, value string) error) error {
	seen := map[string]bool{}
	for _, pair := range strings.Split(text, ",") {
		key, value, ok := strings.Cut(pair, "=")
		key, value = strings.ToLower(strings.TrimSpace(key)), strings.TrimSpace(value)
		if !ok {
			return f.fault("%q is not of the form key=value, as in %s", clip(pair), f.example)
		}
		if seen[key] {
			return f.fault("%q is given twice", clip(key))
		}
		seen[key] = true
		if err := take(key, value); err != nil {
			return err
		}
	}
	return nil
}

// shortField is one key that takes a number in a range.
type shortField[T any] struct {
	key       string
	low, high float64
	unit      string
	// into is where the number goes.
	into func(*T) *float64
}

// set reads the number into a thing.
func (s shortField[T]) set(f shortForm, thing *T, value string) error {
	x, err := strconv.ParseFloat(value, 64)
	if err != nil || !(s.low <= x && x <= s.high) {
		return f.fault("%s is a number from %v to %v %s, not %q", s.key, s.low, s.high, s.unit, clip(value))
	}
	*s.into(thing) = x
	return nil
}

// name reads a name.
func (f shortForm) name(value string) (string, error) {
	if most := track.DefaultLimits().NameRunes; !utf8.ValidString(value) || utf8.RuneCountInString(value) > most {
		return "", f.fault("the name is longer than %d characters", most)
	}
	return value, nil
}

func (f shortForm) fault(format string, args ...any) error {
	return &Error{
		Code: CodeInvalid, Parameter: f.parameter,
		Detail: "The " + f.parameter + " can't be read: " + fmt.Sprintf(format, args...) + ".",
	}
}

// clip shortens what a caller sent for a message.
func clip(s string) string {
	const most = 40
	if runes := []rune(s); len(runes) > most {
		return string(runes[:most]) + "…"
	}
	return s
}
