package deploy

import (
	"regexp"
	"strings"
	"testing"

	"github.com/moby/buildkit/frontend/dockerfile/instructions"
	"github.com/moby/buildkit/frontend/dockerfile/linter"
	"github.com/moby/buildkit/frontend/dockerfile/parser"
)

func TestContainerfile(t *testing.T) {
	text := read(t, "deploy/Containerfile")
	parsed, err := parser.Parse(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range parsed.Warnings {
		t.Errorf("%s", w.Short)
	}
	stages, arguments, err := instructions.Parse(parsed.AST, linter.New(&linter.Config{Warn: func(rule, _, _, message string, _ []parser.Range) {
		t.Errorf("%s: %s", rule, message)
	}}))
	if err != nil {
		t.Fatal(err)
	}
	image := stages[len(stages)-1]
	if image.BaseName != "scratch" {
		t.Errorf("the image is built on %s", image.BaseName)
	}
	user, entry := "", []string(nil)
	for _, command := range image.Commands {
		switch c := command.(type) {
		case *instructions.UserCommand:
			user = c.User
		case *instructions.EntrypointCommand:
			entry = c.CmdLine
		case *instructions.RunCommand:
			t.Errorf("the image has nothing that could run %v", c.CmdLine)
		}
	}
	if !regexp.MustCompile(`^[1-9]\d*:[1-9]\d*$`).MatchString(user) { // by number: an orchestrator can tell that it isn't root
		t.Errorf("the image runs as %q", user)
	}
	if len(entry) != 1 || entry[0] != "/parcours" {
		t.Errorf("the image runs %q", entry)
	}
	wanted := regexp.MustCompile(`(?m)^go (\d+\.\d+)\.`).FindStringSubmatch(read(t, "go.mod"))
	if base := *arguments[0].Args[0].Value; !strings.HasPrefix(base, "docker.io/library/golang:"+wanted[1]+".") {
		t.Errorf("built with %s, where go.mod asks for %s", base, wanted[1])
	}
}
