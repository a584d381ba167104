package analysis_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"slices"
	"strings"
	"testing"
)

// undocumented returns the exported names of a file that have no doc comment, or one
// that doesn't end with a full stop. Names in a group may share its comment.
func undocumented(file *ast.File) []string {
	var names []string
	for _, decl := range file.Decls {
		switch d := decl.(type) {
		case *ast.FuncDecl:
			if d.Name.IsExported() && exportedReceiver(d) && !sentence(d.Doc) {
				names = append(names, d.Name.Name)
			}
		case *ast.GenDecl:
			for _, spec := range d.Specs {
				names = append(names, undocumentedIn(spec, d)...)
			}
		}
	}
	return names
}

func undocumentedIn(spec ast.Spec, group *ast.GenDecl) []string {
	var names []string
	switch s := spec.(type) {
	case *ast.TypeSpec:
		if s.Name.IsExported() && !sentence(s.Doc) && !sentence(group.Doc) {
			names = append(names, s.Name.Name)
		}
	case *ast.ValueSpec:
		for _, n := range s.Names {
			if n.IsExported() && !sentence(s.Doc) && !sentence(s.Comment) && !sentence(group.Doc) {
				names = append(names, n.Name)
			}
		}
	}
	return names
}

// exportedReceiver reports whether a function belongs to no type or to an exported one.
func exportedReceiver(f *ast.FuncDecl) bool {
	if f.Recv == nil {
		return true
	}
	t := f.Recv.List[0].Type
	for {
		switch x := t.(type) {
		case *ast.StarExpr:
			t = x.X
		case *ast.IndexExpr:
			t = x.X
		case *ast.IndexListExpr:
			t = x.X
		case *ast.Ident:
			return x.IsExported()
		default:
			return true
		}
	}
}

func sentence(doc *ast.CommentGroup) bool {
	return doc != nil && strings.HasSuffix(strings.TrimSpace(doc.Text()), ".")
}

func TestExportedNamesAreDocumented(t *testing.T) {
	packages := map[string]bool{}
	for _, s := range shippedSources(t) {
		documented := sentence(s.ast.Doc)
		packages[s.pkg] = packages[s.pkg] || documented
		if s.ast.Doc != nil && !documented {
			t.Errorf("%s: the package comment does not end with a full stop", s.file)
		}
		if ast.IsGenerated(s.ast) {
			continue
		}
		for _, name := range undocumented(s.ast) {
			t.Errorf("%s: %s has no doc comment that ends with a full stop", s.file, name)
		}
	}
	for pkg, documented := range packages {
		if !documented {
			t.Errorf("package %s has no package comment", pkg)
		}
	}
}

func TestUndocumented(t *testing.T) {
	const text = `package p
// Good is documented.
func Good() {}
// Bad lacks the stop
func Bad() {}
func Bare() {}
func private() {}
type T struct{}
// M is documented.
func (T) M() {}
func (*T) N() {}
type t struct{}
func (t) O() {}
// The group is documented.
const ( A = 1; B = 2 )
const (
	C = 3 // C is documented.
	D = 4
)
`
	file, err := parser.ParseFile(token.NewFileSet(), "p.go", text, parser.ParseComments)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := undocumented(file), []string{"Bad", "Bare", "T", "N", "D"}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}
