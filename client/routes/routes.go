// Package routes finds the route files of a folder: the rounds of a season as people keep them.
package routes

import (
	"cmp"
	"io/fs"
	"slices"
	"strings"
)

// suffixes are those of the names of route files, each also with ".gz" behind it.
var suffixes = []string{".gpx", ".geojson", ".kml", ".kmz", ".tcx", ".fit", ".csv"}

// Below returns the names of the route files of a folder and of those in it, with slashes, in
// natural order: numbers in names count as numbers, so that week-9.gpx stands before
// week-10.gpx. What is hidden, by a dot in front, is left out, and so is all that isn't a
// regular file.
func Below(folder fs.FS) ([]string, error) {
	var names []string
	err := fs.WalkDir(folder, ".", func(name string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case name != "." && strings.HasPrefix(entry.Name(), "."):
			if entry.IsDir() {
				return fs.SkipDir
			}
		case entry.Type().IsRegular() && IsRoute(name):
			names = append(names, name)
		}
		return nil
	})
	slices.SortFunc(names, Compare)
	return names, err
}

// IsRoute reports whether a file's name is that of a route file.
func IsRoute(name string) bool {
	name = strings.TrimSuffix(strings.ToLower(name), ".gz")
	return slices.ContainsFunc(suffixes, func(s string) bool { return strings.HasSuffix(name, s) })
}

// Compare orders names as Below does, as cmp.Compare does: runs of digits by the number that
// they are, all else by its characters, without regard to case unless that alone differs.
func Compare(a, b string) int {
	x, y := strings.ToLower(a), strings.ToLower(b)
	for x != "" && y != "" {
		n, m := digits(x), digits(y)
		if n == 0 || m == 0 {
			if x[0] != y[0] {
				return cmp.Compare(x[0], y[0])
			}
			x, y = x[1:], y[1:]
			continue
		}
		if c := compareNumbers(x[:n], y[:m]); c != 0 {
			return c
		}
		x, y = x[n:], y[m:]
	}
	return cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(a, b))
}

// digits counts the digits that a text begins with.
func digits(s string) int {
	return len(s) - len(strings.TrimLeft(s, "0123456789"))
}

// compareNumbers compares two numbers of any length.
func compareNumbers(a, b string) int {
	a, b = strings.TrimLeft(a, "0"), strings.TrimLeft(b, "0")
	return cmp.Or(cmp.Compare(len(a), len(b)), cmp.Compare(a, b))
}
