package api

import (
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// codesOf reads the constants Code… of a package's source.
func codesOf(t *testing.T, dir string) []string {
	t.Helper()
	names, err := filepath.Glob(filepath.Join("..", dir, "*.go"))
	if err != nil || len(names) == 0 {
		t.Fatalf("%s: %v", dir, err)
	}
	var codes []string
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.ValueSpec:
				if value, ok := literal(n.Values); ok && strings.HasPrefix(n.Names[0].Name, "Code") {
					codes = append(codes, value)
				}
			case *ast.CompositeLit: // an error made without one of the constants
				if kind, ok := n.Type.(*ast.Ident); ok && kind.Name == "Error" {
					for _, field := range n.Elts {
						if f, ok := field.(*ast.KeyValueExpr); ok && f.Key.(*ast.Ident).Name == "Code" {
							if value, ok := literal([]ast.Expr{f.Value}); ok {
								codes = append(codes, value)
							}
						}
					}
				}
			}
			return true
		})
	}
	return codes
}

// literal returns the only string of a list.
func literal(values []ast.Expr) (string, bool) {
	if len(values) != 1 {
		return "", false
	}
	text, ok := values[0].(*ast.BasicLit)
	if !ok || text.Kind != token.STRING {
		return "", false
	}
	value, err := strconv.Unquote(text.Value)
	return value, err == nil
}

// TestEveryCodeHasAProblem demands a kind of problem, with its page, for every reason
// for which a file can't be read or a course not be made.
func TestEveryCodeHasAProblem(t *testing.T) {
	for dir, kinds := range map[string]map[string]problemKind{"analysis/course": courseKinds, "analysis/track": fileKinds} {
		codes := codesOf(t, dir)
		for _, code := range codes {
			if kind, known := kinds[code]; !known || kind.name != code {
				t.Errorf("%s: %q has no problem of its name", dir, code)
			}
		}
		for code, kind := range maps.All(kinds) {
			if !slices.Contains(codes, code) {
				t.Errorf("%s: nothing has the code %q", dir, code)
			}
			if !slices.Contains(problemKinds(), kind) {
				t.Errorf("%s: %q has no page", dir, kind.name)
			}
		}
	}
}

// TestProblemPagesShowCode demands that a problem's page shows names as code.
func TestProblemPagesShowCode(t *testing.T) {
	rendered, err := loadPages()
	if err != nil {
		t.Fatal(err)
	}
	for name, page := range rendered.problems {
		if strings.Contains(string(page), "`") {
			t.Errorf("%s: a name is not shown as code", name)
		}
	}
}
