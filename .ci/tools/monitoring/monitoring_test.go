package monitoring

import (
	"encoding/json"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"
	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/promql/parser"
	"go.yaml.in/yaml/v3"
)

// above is where deploy/ stands, seen from here.
const above = "../../../"

// expression is what a panel or a rule computes.
type expression struct{ where, text string }

func read(t *testing.T, name string) []byte {
	t.Helper()
	content, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return content
}

// ruleFile is what is read of the rules.
type ruleFile struct {
	Groups []struct {
		Rules []struct{ Record, Alert, Expr string }
	}
}

// rules returns what the rules compute, and the names that they record.
func rules(t *testing.T) (all []expression, recorded []string) {
	var file ruleFile
	if err := yaml.Unmarshal(read(t, above+"deploy/prometheus/rules.yml"), &file); err != nil {
		t.Fatal(err)
	}
	for _, group := range file.Groups {
		for _, r := range group.Rules {
			all = append(all, expression{"rule " + r.Record + r.Alert, r.Expr})
			if r.Record != "" {
				recorded = append(recorded, r.Record)
			}
		}
	}
	return all, recorded
}

// panels returns what the dashboard computes. Its own variables stand for any value.
func panels(t *testing.T) (all []expression) {
	var board struct {
		Templating struct {
			List []struct{ Name string }
		}
		Panels []struct {
			Title   string
			ID      int
			Type    string
			GridPos struct{ X, Y, W, H int }
			Targets []struct{ Expr string }
		}
	}
	if err := json.Unmarshal(read(t, above+"deploy/grafana/parcours.json"), &board); err != nil {
		t.Fatal(err)
	}
	ids := map[int]bool{}
	for i, p := range board.Panels {
		if ids[p.ID] || p.Title == "" || (len(p.Targets) == 0) != (p.Type == "row") {
			t.Errorf("panel %q isn't whole", p.Title)
		}
		ids[p.ID] = true
		for _, q := range board.Panels[:i] {
			a, b := p.GridPos, q.GridPos
			if a.X < b.X+b.W && b.X < a.X+a.W && a.Y < b.Y+b.H && b.Y < a.Y+a.H {
				t.Errorf("panels %q and %q lie on each other", p.Title, q.Title)
			}
		}
		for _, target := range p.Targets {
			text := strings.ReplaceAll(target.Expr, "$__rate_interval", "5m")
			for _, v := range board.Templating.List {
				text = strings.ReplaceAll(text, "$"+v.Name, "x")
			}
			all = append(all, expression{"panel " + p.Title, text})
		}
	}
	return all
}

// shown returns the labels of each series' name that a running service shows, and the values of
// each label. The file is what /metrics answered, of one service or several.
func shown(t *testing.T) map[string]map[string][]string {
	t.Helper()
	name := os.Getenv("PARCOURS_METRICS")
	if name == "" {
		t.Skip("PARCOURS_METRICS names no file with what /metrics answered")
	}
	p := expfmt.NewTextParser(model.UTF8Validation)
	families, err := p.TextToMetricFamilies(strings.NewReader(string(read(t, name))))
	if err != nil {
		t.Fatal(err)
	}
	series := map[string]map[string][]string{"up": {}}
	for name, family := range families {
		for _, m := range family.GetMetric() {
			have := map[string][]string{}
			for _, l := range m.GetLabel() {
				have[l.GetName()] = append(have[l.GetName()], l.GetValue())
			}
			names := []string{name}
			if m.GetHistogram() != nil {
				names = []string{name + "_count", name + "_sum", name + "_bucket"}
			}
			for _, n := range names {
				if series[n] == nil {
					series[n] = map[string][]string{}
				}
				for l, values := range have {
					series[n][l] = append(series[n][l], values...)
				}
				if strings.HasSuffix(n, "_bucket") {
					series[n]["le"] = []string{"+Inf"}
				}
			}
		}
	}
	return series
}

// Whatever the dashboard and the rules ask of the service, it shows: each metric, with each label
// that is selected or summed by, and with the values that are selected.
func TestWhatIsAskedIsShown(t *testing.T) {
	series := shown(t)
	all, recorded := rules(t)
	all = append(all, panels(t)...)
	asked := map[string]bool{}
	for _, e := range all {
		tree, err := parser.NewParser(parser.Options{}).ParseExpr(e.text)
		if err != nil {
			t.Errorf("%s: %v", e.where, err)
			continue
		}
		var grouped []string
		parser.Inspect(tree, func(node parser.Node, _ []parser.Node) error {
			switch n := node.(type) {
			case *parser.AggregateExpr:
				grouped = append(grouped, n.Grouping...)
			case *parser.VectorSelector:
				asked[n.Name] = true
				if !slices.Contains(recorded, n.Name) {
					checkSelector(t, e.where, n, series)
				}
			}
			return nil
		})
		checkGrouping(t, e, tree, grouped, series)
	}
	for _, name := range recorded {
		if !asked[name] {
			t.Errorf("nothing uses what is recorded as %s", name)
		}
	}
	if len(asked) < 20 {
		t.Errorf("only %d metrics are asked for", len(asked))
	}
}

// ofPrometheus are labels that Prometheus adds.
var ofPrometheus = []string{"job", "instance"}

func checkSelector(t *testing.T, where string, n *parser.VectorSelector, series map[string]map[string][]string) {
	have, is := series[n.Name]
	if !is {
		t.Errorf("%s: the service shows no %s", where, n.Name)
		return
	}
	for _, m := range n.LabelMatchers {
		if m.Name == model.MetricNameLabel || slices.Contains(ofPrometheus, m.Name) {
			continue
		}
		if have[m.Name] == nil {
			t.Errorf("%s: %s has no label %s", where, n.Name, m.Name)
		}
		if m.Type == labels.MatchEqual && !slices.Contains(have[m.Name], m.Value) && !rare(m) {
			t.Errorf("%s: no %s{%s=%q}", where, n.Name, m.Name, m.Value)
		}
	}
}

// rare reports whether a value shows once a service fails or refuses only.
func rare(m *labels.Matcher) bool {
	return m.Name == "outcome" && (m.Value == "failed" || m.Value == "refused")
}

// checkGrouping demands that what is summed by is a label of all that is summed.
func checkGrouping(t *testing.T, e expression, tree parser.Expr, grouped []string, series map[string]map[string][]string) {
	parser.Inspect(tree, func(node parser.Node, _ []parser.Node) error {
		n, is := node.(*parser.VectorSelector)
		if !is || series[n.Name] == nil {
			return nil
		}
		for _, l := range grouped {
			if series[n.Name][l] == nil && !slices.Contains(ofPrometheus, l) {
				t.Errorf("%s: %s has no label %s to sum by", e.where, n.Name, l)
			}
		}
		return nil
	})
}

// The example in a rule's words names the service's own settings.
func TestRulesNameSettings(t *testing.T) {
	text := string(read(t, above+"deploy/prometheus/rules.yml"))
	config := string(read(t, above+"service/config.go"))
	names := regexp.MustCompile(`PARCOURS_[A-Z_]+`).FindAllString(text, -1)
	if len(names) == 0 {
		t.Fatal("no settings are named")
	}
	for _, name := range names {
		field := strings.ReplaceAll(strings.ToLower(strings.TrimPrefix(name, "PARCOURS_")), "_", "-")
		if !strings.Contains(config, `"`+field+`"`) {
			t.Errorf("%s is no setting", name)
		}
	}
}
