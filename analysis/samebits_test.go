package analysis_test

import (
	"go/ast"
	"slices"
	"strings"
	"testing"
)

// roundedAlike are the functions of the package math whose results are exact or
// correctly rounded, and so the same bits on every processor.
var roundedAlike = strings.Fields(`Abs Ceil Copysign Dim Floor Float64bits Float64frombits Frexp Inf IsInf IsNaN
	Ldexp Max Min Mod Modf NaN Nextafter Pow10 Remainder Round RoundToEven Signbit Sqrt Trunc`)

// TestElementaryFunctionsAreOurs demands that what ships takes sines and their like
// from the package elementary.
func TestElementaryFunctionsAreOurs(t *testing.T) {
	for _, s := range shippedSources(t) {
		if s.pkg == "analysis/coursegen" {
			continue
		}
		ast.Inspect(s.ast, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			f, ok := call.Fun.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			if of, ok := f.X.(*ast.Ident); ok && of.Name == "math" && !slices.Contains(roundedAlike, f.Sel.Name) {
				t.Errorf("%s: math.%s may differ between processors; use the package elementary or add it to the list", s.set.Position(call.Pos()), f.Sel.Name)
			}
			return true
		})
	}
}
