// Command generate writes the files of the invented season to testdata/season. With
// -check it writes nothing and fails if the files there are not those that it would
// write.
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
	dir := flag.String("dir", "testdata/season", "the season's directory")
	flag.Parse()
	if err := run(*dir, *check); err != nil {
		fmt.Fprintln(os.Stderr, "generate:", err)
		os.Exit(1)
	}
}

func run(dir string, check bool) error {
	files, err := coursegen.SeasonFiles()
	if err != nil {
		return err
	}
	for _, f := range files {
		path := filepath.Join(dir, f.Name)
		if !check {
			if err := os.WriteFile(path, f.Data, 0o644); err != nil {
				return err
			}
			continue
		}
		if have, err := os.ReadFile(path); err != nil {
			return err
		} else if !bytes.Equal(have, f.Data) {
			return fmt.Errorf("%s is not what would be written; run without -check", path)
		}
	}
	return nil
}
