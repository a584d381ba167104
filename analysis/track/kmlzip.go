package track

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
)

// A zipped file may unpack to plentifulBytes whatever its own size, and beyond that to
// mostPacked times its size: text of coordinates packs to a quarter, white space to a
// thousandth.
const (
	plentifulBytes = 16 << 20
	mostPacked     = 100
)

// unzipKML returns the KML file of a zip archive, and any other file as it is. The
// KML file is doc.kml, else the first .kml at the archive's root, else the first (OGC
// 12-007r2, annex on KMZ). The note, where not empty, warns that there are several.
func unzipKML(data []byte, limit int) (kml []byte, note string, err error) {
	// An archive starts with its first file, or if it has none with its directory.
	if !bytes.HasPrefix(data, []byte("PK\x03\x04")) && !bytes.HasPrefix(data, []byte("PK\x05\x06")) {
		return data, "", nil
	}
	archive, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, "", &Error{Code: CodeMalformed, Detail: fmt.Sprintf(
			"The file starts as a zip archive, but can't be opened as one (%s); export it or send it again.", clean(err.Error(), 120))}
	}
	file, note := chooseKML(archive.File)
	if file == nil {
		return nil, "", &Error{Code: CodeNotTheFormat, Detail: "The zip archive holds no .kml file; export the course as KML, or name the file's true format."}
	}
	limit = min(limit, plentifulBytes+mostPacked*len(data))
	kml, err = unpack(file, limit)
	return kml, note, err
}

// chooseKML returns the KML file of an archive, nil if there is none.
func chooseKML(files []*zip.File) (chosen *zip.File, note string) {
	best, atRoot := 0, 0
	for _, f := range files {
		name := strings.ToLower(f.Name)
		var rank int
		switch {
		case path.Ext(name) != ".kml":
			continue
		case name == "doc.kml":
			rank = 3
		case !strings.Contains(name, "/"):
			rank = 2
		default:
			rank = 1
		}
		if rank > 1 {
			atRoot++
		}
		if rank > best {
			best, chosen = rank, f
		}
	}
	if atRoot > 1 {
		note = fmt.Sprintf("The zip archive holds %d KML files; %q was read.", atRoot, clean(chosen.Name, 80))
	}
	return chosen, note
}

// unpack returns a file of an archive that has at most limit bytes.
func unpack(file *zip.File, limit int) ([]byte, error) {
	if file.UncompressedSize64 > uint64(limit) {
		return nil, tooManyBytes(limit, int(min(file.UncompressedSize64, 1<<50)))
	}
	r, err := file.Open()
	if errors.Is(err, zip.ErrAlgorithm) {
		return nil, &Error{Code: CodeMalformed, Detail: "The zip archive is packed by a method that is not read here; pack it by the usual one (deflate)."}
	}
	if err != nil {
		return nil, brokenArchive(err)
	}
	defer r.Close()
	content, err := io.ReadAll(io.LimitReader(r, int64(limit)+1))
	switch {
	case len(content) > limit:
		return nil, tooManyBytes(limit, len(content))
	case err != nil:
		return nil, brokenArchive(err)
	}
	return content, nil
}

func brokenArchive(err error) error {
	return &Error{Code: CodeMalformed, Detail: fmt.Sprintf(
		"The KML file in the zip archive can't be unpacked (%s); export it or send it again.", clean(err.Error(), 120))}
}

func tooManyBytes(limit, actual int) error {
	return &Error{Code: CodeTooMany, Limit: limit, Actual: actual, Detail: fmt.Sprintf(
		"The zip archive unpacks to %d bytes or more, at most %d can be read; thin out the points, one every few metres is enough.", actual, limit)}
}
