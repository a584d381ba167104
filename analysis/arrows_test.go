package analysis_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const module = "parcours.example"

// arrows say which packages of ours a package that ships may import, by their paths
// in the module. A package that is not in the table may not exist.
var arrows = map[string][]string{
	".":                   {},
	"analysis":            {},
	"analysis/elementary": {},
	"analysis/geodesy":    {"analysis/elementary"},
	"analysis/smooth":     {"analysis/elementary"},
	"analysis/track":      {"analysis", "analysis/elementary", "analysis/geodesy"},
	"analysis/course":     {"analysis", "analysis/elementary", "analysis/geodesy", "analysis/smooth", "analysis/track"},
	"analysis/terrain":    {"analysis", "analysis/elementary", "analysis/geodesy", "analysis/smooth", "analysis/track", "analysis/course"},
	"analysis/ride":       {"analysis", "analysis/elementary", "analysis/geodesy", "analysis/smooth", "analysis/track", "analysis/course"},
	"analysis/capability": {"analysis", "analysis/elementary"},
	"analysis/wording":    {},
	"analysis/chance":     {"analysis/elementary"},
	"analysis/field":      {"analysis/chance", "analysis/ride"},
	"analysis/shelter":    {"analysis/elementary"},
	"analysis/plan":       {"analysis", "analysis/elementary", "analysis/course", "analysis/ride", "analysis/wording"},
	"analysis/race":       {"analysis", "analysis/elementary", "analysis/chance", "analysis/ride", "analysis/shelter"},
	"analysis/scoring":    {},
	"analysis/tally":      {"analysis", "analysis/elementary", "analysis/race", "analysis/scoring", "analysis/wording"},
	"analysis/duel":       {"analysis/ride", "analysis/wording"},
	"analysis/launch":     {"analysis", "analysis/elementary", "analysis/course", "analysis/ride", "analysis/shelter", "analysis/wording"},
	"analysis/choice":     {"analysis", "analysis/elementary", "analysis/course", "analysis/ride", "analysis/wording"},
	"analysis/aid":        {"analysis", "analysis/elementary", "analysis/course", "analysis/ride", "analysis/shelter", "analysis/wording"},
	"analysis/food":       {},
	"analysis/itinerary":  {"analysis/course", "analysis/terrain", "analysis/track", "analysis/wording"},
	"analysis/brief":      {"analysis", "analysis/elementary", "analysis/food", "analysis/itinerary", "analysis/geodesy", "analysis/smooth", "analysis/track", "analysis/course", "analysis/terrain", "analysis/ride", "analysis/choice", "analysis/launch", "analysis/aid", "analysis/tally", "analysis/duel", "analysis/wording"},
	"analysis/season":     {"analysis", "analysis/elementary", "analysis/course", "analysis/terrain", "analysis/wording"},
	"analysis/colour":     {"analysis/elementary"},
	"analysis/picture":    {"analysis", "analysis/elementary", "analysis/geodesy", "analysis/smooth", "analysis/track", "analysis/course", "analysis/terrain", "analysis/ride", "analysis/wording", "analysis/colour"},
	"analysis/hindsight":  {"analysis/plan", "analysis/ridden", "analysis/ride", "analysis/wording"},
	"analysis/recording":  {"analysis", "analysis/elementary", "analysis/geodesy", "analysis/smooth", "analysis/track"},
	"analysis/ridden":     {"analysis", "analysis/elementary", "analysis/geodesy", "analysis/smooth", "analysis/course", "analysis/recording"},
	"analysis/calibrate":  {"analysis/elementary", "analysis/course", "analysis/ridden", "analysis/ride"},
	"analysis/coursegen":  {"analysis/geodesy", "analysis/track"},
	"api/contract":        {},
	"api":                 {".", "analysis", "analysis/*", "api/contract", "api/page", "service/engine", "service/jobs", "service/keys", "service/quota", "service/span"},
	"service/engine":      {"analysis", "analysis/*", "internal/shortform", "service/cache", "service/span"},
	"service/cache":       {"service/span"},
	"service/jobs":        {"service/cache"},
	"service/keys":        {"service/quota"},
	"service/quota":       {"service/cache"},
	"service/span":        {},
	"service/traces":      {},
	"service":             {"analysis", "analysis/*", "api", "api/contract", "service/*"},
	"service/*":           {"analysis", "analysis/*", "service/*"},
	"internal/figures":    {},
	"internal/golden":     {},
	"internal/openloop":   {},
	"internal/replica":    {},
	"internal/ridegen":    {"analysis/*"},
	"internal/seeded":     {},
	"internal/sharedlog":  {},
	"internal/shortform":  {},
	"client":              {"api/contract", "client/*"},
	"client/clienttest":   {".", "api/contract"},
	"client/local":        {"api", "client", "service/engine"},
	"client/roster":       {"api/contract", "internal/shortform"},
	"client/cmd/parcours": {"api/contract", "client", "client/*", "internal/shortform"},
	"client/*":            {"api/contract", "client", "client/*"},

	"api/page":             {},
	"client/routes":        {},
	"internal/browsertest": {},

	"client/cmd/parcours-dashboard": {"api/contract", "api/page", "client", "client/*"},
}

// impure are packages of the standard library whose results depend on more than
// their arguments; each stands for those below it too.
var impure = []string{"net", "os", "time", "math/rand", "sync", "syscall", "log", "runtime", "crypto/rand", "database", "plugin", "unsafe"}

// matches reports whether a path is one of a list, in which "x/*" stands for all below x.
func matches(list []string, path string) bool {
	return slices.ContainsFunc(list, func(s string) bool {
		below, wide := strings.CutSuffix(s, "*")
		return s == path || wide && strings.HasPrefix(path, below)
	})
}

// breach says what is wrong with an import of a package that ships, empty if nothing.
func breach(from, imported string) string {
	if ours, ok := strings.CutPrefix(imported+"/", module+"/"); ok {
		return breachOfArrows(from, strings.TrimSuffix(ours, "/"))
	}
	if from != "analysis" && !strings.HasPrefix(from, "analysis/") {
		if from == "service/engine" && (imported == "net/http" || strings.HasPrefix(imported, "github.com/gin-gonic/")) {
			return "the use cases know nothing of HTTP"
		}
		return ""
	}
	for _, p := range impure {
		if imported == p || strings.HasPrefix(imported, p+"/") {
			if p == "math/rand" && (from == "analysis/coursegen" || from == "analysis/chance") {
				return ""
			}
			return "the analysis is pure"
		}
	}
	return ""
}

func breachOfArrows(from, ours string) string {
	if ours == "" {
		ours = "."
	}
	if ours == "analysis/coursegen" {
		return "what ships does not import the generator of test courses"
	}
	allowed, known := arrows[from]
	if !known {
		top, _, _ := strings.Cut(from, "/")
		allowed, known = arrows[top+"/*"]
	}
	switch {
	case !known:
		return "the importing package is not in the table of arrows"
	case !matches(allowed, ours):
		return "against the arrows"
	}
	return ""
}

// source is a parsed file with its package's path in the module.
type source struct {
	pkg, file string
	ast       *ast.File
	set       *token.FileSet
}

// shippedSources parses the module's Go files except tests, test data and tools.
func shippedSources(t *testing.T) []source {
	t.Helper()
	var sources []source
	root := ".."
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		name := d.Name()
		switch {
		case err != nil:
			return err
		case d.IsDir() && path != root && (strings.HasPrefix(name, ".") || strings.HasPrefix(name, "_") || name == "testdata"):
			return fs.SkipDir
		case d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go"):
			return nil
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, path, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, path)
		sources = append(sources, source{pkg: filepath.ToSlash(filepath.Dir(rel)), file: filepath.ToSlash(rel), ast: file, set: set})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(sources) < 30 {
		t.Fatalf("only %d files found", len(sources))
	}
	return sources
}

func TestImportsFollowTheArrows(t *testing.T) {
	for _, s := range shippedSources(t) {
		for _, i := range s.ast.Imports {
			imported, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				t.Fatal(err)
			}
			if why := breach(s.pkg, imported); why != "" {
				t.Errorf("%s imports %s: %s", s.file, imported, why)
			}
		}
	}
}

func TestAnalysisStartsNoGoroutines(t *testing.T) {
	for _, s := range shippedSources(t) {
		if s.pkg != "analysis" && !strings.HasPrefix(s.pkg, "analysis/") {
			continue
		}
		ast.Inspect(s.ast, func(n ast.Node) bool {
			if g, ok := n.(*ast.GoStmt); ok {
				t.Errorf("%s starts a goroutine", s.set.Position(g.Pos()))
			}
			return true
		})
	}
}

func TestBreach(t *testing.T) {
	for _, c := range []struct {
		from, imported string
		bad            bool
	}{
		{"analysis/track", module + "/analysis/geodesy", false},
		{"analysis/geodesy", module + "/analysis/track", true},
		{"analysis/track", module + "/analysis/course", true},
		{"analysis/course", module + "/analysis/terrain", true},
		{"analysis/ride", module + "/analysis/terrain", true},
		{"analysis/smooth", module + "/analysis", true},
		{"analysis/brief", module + "/analysis/ride", false},
		{"analysis/brief", module + "/analysis/coursegen", true},
		{"api", module + "/analysis/coursegen", true},
		{"api", module + "/service/engine", false},
		{"api", module, false},
		{"service/engine", module + "/api", true},
		{"service/engine", "net/http", true},
		{"service/cache", module + "/api", true},
		{"service", module + "/api", false},
		{"analysis/course", module + "/service/engine", true},
		{"analysis/course", module, true},
		{"client", module + "/api/contract", false},
		{"client", module + "/api", true},
		{"client/cmd/x", module + "/client", false},
		{"client/cmd/x", module + "/analysis", true},
		{"api/contract", module + "/analysis", true},
		{"newroom", module + "/analysis", true},
		{"analysis/track", "net/http", true},
		{"analysis/track", "golang.org/x/net/html/charset", false},
		{"analysis/course", "time", true},
		{"analysis/course", "math/rand/v2", true},
		{"analysis/coursegen", "math/rand/v2", false},
		{"analysis/coursegen", "os", true},
		{"analysis/ride", "sync/atomic", true},
		{"service", "os", false},
	} {
		if why := breach(c.from, c.imported); (why != "") != c.bad {
			t.Errorf("%s importing %s: %q", c.from, c.imported, why)
		}
	}
}
