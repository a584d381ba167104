package track

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"
)

// directoryEntry is what the entry of each file in an archive's directory starts with.
var directoryEntry = []byte("PK\x01\x02")

// isArchive says whether a file is a zip archive: it starts with its first file, or if it
// has none with its directory.
func isArchive(data []byte) bool {
	return bytes.HasPrefix(data, []byte("PK\x03\x04")) || bytes.HasPrefix(data, []byte("PK\x05\x06"))
}

// readZippedKML reads the KML file of an archive: doc.kml, else the first .kml at the
// archive's root, else the first (OGC 12-007r2, annex on KMZ). If it only leads to others,
// these are in the archive, too, and the next one that holds anything is read.
func readZippedKML(ctx context.Context, data []byte, asked int, limits Limits) (*Track, error) {
	if n := bytes.Count(data, directoryEntry); n > limits.Parts { // whoever opens it makes something of each
		return nil, &Error{Code: CodeTooMany, Limit: limits.Parts, Actual: n, Detail: fmt.Sprintf(
			"The zip archive holds %d files, at most %d are looked through; pack the .kml file alone.", n, limits.Parts)}
	}
	archive, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, &Error{Code: CodeMalformed, Detail: fmt.Sprintf(
			"The file starts as a zip archive, but can't be opened as one (%s); export it or send it again.", clean(err.Error(), 120))}
	}
	files := kmlFiles(archive.File)
	if len(files) == 0 {
		return nil, &Error{Code: CodeNotTheFormat, Detail: "The zip archive holds no .kml file; export the course as KML, or name the file's true format."}
	}
	left := limits.Unpacked(len(data))
	var f *kmlReader
	for f == nil || f.linksAlone() && len(files) > 1 {
		if f != nil {
			files = files[1:]
		}
		content, err := unpack(files[0], left)
		if err != nil {
			return nil, err
		}
		left -= len(content)
		if f, err = readKML(ctx, content, limits); err != nil {
			return nil, err
		}
	}
	if len(files) > 1 && rankOf(files[1]) >= min(rankOf(files[0]), atRoot) {
		f.notes.addFile("several-files", fmt.Sprintf(
			"The zip archive holds further KML files; %q was read.", clean(files[0].Name, 80)))
	}
	return f.track(asked)
}

// The places of a KML file in an archive, those that are read first the highest.
const (
	noKML = iota
	belowRoot
	atRoot
	docKML
)

func rankOf(f *zip.File) int {
	name := strings.ToLower(f.Name)
	switch {
	case path.Ext(name) != ".kml":
		return noKML
	case name == "doc.kml":
		return docKML
	case !strings.Contains(name, "/"):
		return atRoot
	}
	return belowRoot
}

// kmlFiles returns the KML files of an archive in the order in which they are read.
func kmlFiles(files []*zip.File) []*zip.File {
	files = slices.DeleteFunc(slices.Clone(files), func(f *zip.File) bool { return rankOf(f) == noKML })
	slices.SortStableFunc(files, func(a, b *zip.File) int { return rankOf(b) - rankOf(a) })
	return files
}

// unpack returns a file of an archive that has at most limit bytes.
func unpack(file *zip.File, limit int) ([]byte, error) {
	if actual := int(min(file.UncompressedSize64, 1<<50)); actual > limit {
		return nil, &Error{Code: CodeTooMany, Limit: limit, Actual: actual, Detail: fmt.Sprintf(
			"The zip archive unpacks to %d bytes, at most %d can be read; thin out the points, one every few metres is enough.", actual, limit)}
	}
	r, err := file.Open()
	if errors.Is(err, zip.ErrAlgorithm) {
		return nil, &Error{Code: CodeMalformed, Detail: "The zip archive is packed by a method that is not read here; pack it by the usual one (deflate)."}
	}
	if err != nil {
		return nil, brokenArchive(err)
	}
	defer r.Close()
	// What unpacks to more than the archive states is an error of package zip.
	content, err := io.ReadAll(r)
	if err != nil {
		return nil, brokenArchive(err)
	}
	return content, nil
}

func brokenArchive(err error) error {
	return &Error{Code: CodeMalformed, Detail: fmt.Sprintf(
		"The KML file in the zip archive can't be unpacked (%s); export it or send it again.", clean(err.Error(), 120))}
}
