// Command generate writes the files of the invented season to testdata/season, and to
// testdata/examples what riders recorded on one of its courses. With -check it writes nothing
// and fails if the files there are not those that it would write.
package main

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"

	"parcours.example/analysis/coursegen"
)

func main() {
	check := flag.Bool("check", false, "only compare the files with what would be written")
	dir := flag.String("dir", "testdata", "the directory of the test data")
	flag.Parse()
	if err := run(*dir, *check); err != nil {
		fmt.Fprintln(os.Stderr, "generate:", err)
		os.Exit(1)
	}
}

func run(dir string, check bool) error {
	files := map[string][]byte{}
	season, err := coursegen.SeasonFiles()
	if err != nil {
		return err
	}
	for _, f := range season {
		files[filepath.Join("season", f.Name)] = f.Data
	}
	recordings, err := rideFiles(filepath.Join(dir, "examples", "orchard-loop.gpx"))
	if err != nil {
		return err
	}
	for name, data := range recordings {
		files[filepath.Join("examples", name)] = data
	}
	for name, data := range files {
		path := filepath.Join(dir, name)
		if !check {
			if err := os.WriteFile(path, data, 0o644); err != nil {
				return err
			}
			continue
		}
		if have, err := os.ReadFile(path); err != nil {
			return err
		} else if !bytes.Equal(have, data) {
			return fmt.Errorf("%s is not what would be written; run without -check", path)
		}
	}
	return nil
}
