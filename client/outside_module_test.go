package client_test

import (
	"go/ast"
	"go/doc"
	"go/parser"
	"go/token"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// Another module builds a program against this package, and gets nothing with it but the
// standard library; so does a browser's.
func TestOtherModules(t *testing.T) {
	if testing.Short() {
		t.Skip("builds programs")
	}
	root, err := filepath.Abs("..")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	sums, err := os.ReadFile(filepath.Join(root, "go.sum"))
	if err != nil {
		t.Fatal(err)
	}
	for name, content := range map[string]string{
		"go.mod": "module league.example\n\ngo 1.26\n\nrequire parcours.example v0.0.0\n\nreplace parcours.example => " + root + "\n",
		"go.sum": string(sums),
		"main.go": `package main

import (
	"context"
	"fmt"

	"parcours.example/client"
)

func main() {
	c, err := client.New("http://localhost:8080")
	if err != nil {
		panic(err)
	}
	fmt.Println(c.Live(context.Background()))
}
`,
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	run := func(args ...string) string {
		cmd := exec.Command("go", args...)
		cmd.Dir, cmd.Env = dir, append(os.Environ(), "GOWORK=off", "CGO_ENABLED=0")
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("go %s: %v\n%s", strings.Join(args, " "), err, out)
		}
		return string(out)
	}
	run("build", "-mod=mod", "-o", os.DevNull, ".")
	for _, dep := range strings.Fields(run("list", "-mod=mod", "-deps", "-f", "{{if not .Standard}}{{.ImportPath}}{{end}}", ".")) {
		if !strings.HasPrefix(dep, "parcours.example/") && dep != "league.example" {
			t.Errorf("it needs %s", dep)
		}
	}
	wasm := exec.Command("go", "build", "-o", os.DevNull, "parcours.example/client")
	wasm.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm")
	if out, err := wasm.CombinedOutput(); err != nil {
		t.Errorf("for js/wasm: %v\n%s", err, out)
	}
}

// Every call has an example whose output is checked.
func TestExamples(t *testing.T) {
	files := token.NewFileSet()
	var parsed []*ast.File
	names, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		file, err := parser.ParseFile(files, name, nil, parser.ParseComments)
		if err != nil {
			t.Fatal(err)
		}
		parsed = append(parsed, file)
	}
	pkg, err := doc.NewFromFiles(files, parsed, "parcours.example/client")
	if err != nil {
		t.Fatal(err)
	}
	calls := 0
	for _, of := range pkg.Types {
		if of.Name != "Client" {
			continue
		}
		for _, call := range of.Methods {
			calls++
			if !slices.ContainsFunc(call.Examples, func(e *doc.Example) bool { return e.Output != "" }) {
				t.Errorf("%s has no example with its output", call.Name)
			}
		}
	}
	if calls == 0 {
		t.Error("no calls found")
	}
}

// What README shows is part of the examples, which run.
func TestReadme(t *testing.T) {
	readme, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	examples, err := os.ReadFile("example_test.go")
	if err != nil {
		t.Fatal(err)
	}
	_, shown, ok := strings.Cut(string(readme), "```go\nc, err := client.New")
	shown, _, whole := strings.Cut("c, err := client.New"+shown, "```")
	if !ok || !whole {
		t.Fatal("README shows no program")
	}
	for line := range strings.Lines(shown) {
		if !strings.Contains(string(examples), strings.TrimSpace(line)) {
			t.Errorf("no example has the line %q", line)
		}
	}
}
