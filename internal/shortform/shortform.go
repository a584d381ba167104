// Package shortform reads things that are written as comma-separated key=value, as query
// parameters, flags and files of people take them: "mass=72,power=250".
package shortform

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// MostNameRunes is the length of the longest name, in characters.
const MostNameRunes = 200

// Form is a kind of thing in short form. Its faults are *Fault.
type Form struct {
	// Thing is what it is called in faults; Example is one.
	Thing, Example string
}

// Fault says why a text is no short form of a thing, as one sentence.
type Fault struct{ Detail string }

// Error implements error.
func (f *Fault) Error() string { return f.Detail }

// Fault returns the fault of a text, whose reason has no full stop.
func (f Form) Fault(reason string, args ...any) error {
	return &Fault{"The " + f.Thing + " can't be read: " + fmt.Sprintf(reason, args...) + "."}
}

// Each takes every key, in lower case and at most once, with its value.
func (f Form) Each(text string, take func(key, value string) error) error {
	seen := map[string]bool{}
	for _, pair := range strings.Split(text, ",") {
		key, value, ok := strings.Cut(pair, "=")
		key, value = strings.ToLower(strings.TrimSpace(key)), strings.TrimSpace(value)
		if !ok {
			return f.Fault("%q is not of the form key=value, as in %s", Clip(pair), f.Example)
		}
		if seen[key] {
			return f.Fault("%q is given twice", Clip(key))
		}
		seen[key] = true
		if err := take(key, value); err != nil {
			return err
		}
	}
	return nil
}

// Name reads a name of at most MostNameRunes.
func (f Form) Name(value string) (string, error) {
	if !utf8.ValidString(value) || utf8.RuneCountInString(value) > MostNameRunes {
		return "", f.Fault("the name is longer than %d characters", MostNameRunes)
	}
	return value, nil
}

// Field is a key that takes a number in a range.
type Field[T any] struct {
	Key       string
	Low, High float64
	Unit      string
	// Into is where the number goes.
	Into func(*T) *float64
}

// Set reads the number into a thing.
func (s Field[T]) Set(f Form, thing *T, value string) error {
	x, err := strconv.ParseFloat(value, 64)
	if err != nil || !(s.Low <= x && x <= s.High) {
		return f.Fault("%s is a number from %v to %v %s, not %q", s.Key, s.Low, s.High, s.Unit, Clip(value))
	}
	*s.Into(thing) = x
	return nil
}

// Clip shortens what a caller wrote for a message.
func Clip(s string) string {
	const most = 40
	if runes := []rune(s); len(runes) > most {
		return string(runes[:most]) + "…"
	}
	return s
}
