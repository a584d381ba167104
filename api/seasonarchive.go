package api

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/flate"
	"errors"
	"io"
	"path"
	"strings"
	"unicode"

	"github.com/klauspost/compress/gzip"

	"parcours.example/analysis/track"
	"parcours.example/service/engine"
)

// What archives begin with. The mark of a tar archive stands at tarMarkAt.
const (
	zipMark, emptyZipMark, gzipMark = "PK\x03\x04", "PK\x05\x06", "\x1f\x8b"
	tarMark, tarMarkAt              = "ustar", 257
	tarBlock                        = 512
)

func isZip(head []byte) bool {
	return bytes.HasPrefix(head, []byte(zipMark)) || bytes.HasPrefix(head, []byte(emptyZipMark))
}

func isTar(head []byte) bool {
	return len(head) >= tarBlock && bytes.HasPrefix(head[tarMarkAt:], []byte(tarMark))
}

// archive reads a body that is an archive.
func (b *seasonBody) archive() (files, error) {
	head, err := b.Peek(tarBlock)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, bodyError{err}
	}
	switch {
	case isZip(head):
		file, err := b.readFile(sentFile{}, b)
		if err == nil {
			err = file.err
		}
		if err != nil {
			return nil, bodyError{err}
		}
		opened := b.zipped(file)
		if err := opened.err; err != nil {
			return nil, err
		}
		return opened, nil
	case isTar(head):
		return &tarFiles{body: b, entries: tar.NewReader(b)}, nil
	case bytes.HasPrefix(head, []byte(gzipMark)):
		return b.gzipped(), nil
	}
	return nil, &problem{kind: kindNotTheFormat, detail: "The bytes are no zip, tar or gzipped tar archive; send single route files to /v1/courses, or several as a form."}
}

// gzipped reads a body that is a gzipped archive.
func (b *seasonBody) gzipped() files {
	packed := b.server.engine.SentSeason(b.Reader)
	unpacked, err := gzip.NewReader(packed)
	if err != nil {
		return failedFiles{err}
	}
	return &tarFiles{body: b, entries: tar.NewReader(packed.Decoded(unpacked))}
}

// archived reads a file of a form that is an archive; nil for one that isn't. A zipped KML file
// is a route file where it is named so.
func (b *seasonBody) archived(f sentFile) files {
	switch head := f.content[:min(len(f.content), tarBlock)]; {
	case f.err != nil:
		return nil
	case isZip(head) && f.mediaType != kmzMediaType && !strings.EqualFold(path.Ext(f.name), ".kmz"):
		return b.zipped(f)
	case isTar(head):
		return &tarFiles{body: b, entries: tar.NewReader(bytes.NewReader(f.content)), in: &f}
	case bytes.HasPrefix(head, []byte(gzipMark)) && isTar(unzippedHead(f.content)):
		packed := b.server.engine.SentSeason(bytes.NewReader(f.content))
		unpacked, err := gzip.NewReader(packed)
		if err != nil {
			return nil
		}
		return &tarFiles{body: b, entries: tar.NewReader(packed.Decoded(unpacked)), in: &f}
	}
	return nil
}

// kmzMediaType is that of a zipped KML file.
const kmzMediaType = "application/vnd.google-earth.kmz"

// unzippedHead is the beginning of what is gzipped.
func unzippedHead(content []byte) []byte {
	r, err := gzip.NewReader(bytes.NewReader(content))
	if err != nil {
		return nil
	}
	head := make([]byte, tarBlock)
	n, _ := io.ReadFull(r, head)
	return head[:n]
}

// failedFiles are those of an archive that can't be opened.
type failedFiles struct{ err error }

// next implements files.
func (f failedFiles) next() (sentFile, error) { return sentFile{}, f.err }

// zipFiles are those of a zip archive.
type zipFiles struct {
	body    *seasonBody
	in      sentFile
	entries []*zip.File
	err     error
}

// zipped reads a zip archive.
func (b *seasonBody) zipped(f sentFile) *zipFiles {
	z := &zipFiles{body: b, in: f}
	if n := bytes.Count(f.content, []byte("PK\x01\x02")); n > engine.MostEntries { // before its directory takes memory
		z.err = tooManyEntries(n)
		return z
	}
	archive, err := zip.NewReader(bytes.NewReader(f.content), int64(len(f.content)))
	if err != nil {
		z.err = damagedFile("The zip archive can't be read (" + clip(err.Error()) + "); pack it or send it again.")
		return z
	}
	archive.RegisterDecompressor(zip.Deflate, func(r io.Reader) io.ReadCloser {
		packed := b.server.engine.Sent(r)
		return io.NopCloser(packed.Decoded(flate.NewReader(packed)))
	})
	z.entries = archive.File
	return z
}

// damagedFile is the error of a file that can't be read.
func damagedFile(detail string) error {
	return &track.Error{Code: track.CodeMalformed, Detail: detail}
}

// next implements files. An archive that can't be opened is one bad file.
func (z *zipFiles) next() (sentFile, error) {
	if z.err != nil {
		f := sentFile{name: z.in.name, err: z.err}
		z.err = nil
		return f, nil //nolint:nilerr // it stands in the file's place
	}
	for len(z.entries) > 0 {
		entry := z.entries[0]
		z.entries = z.entries[1:]
		name := entryName(z.in.name, entry.Name)
		if err := z.body.count(); err != nil {
			return sentFile{}, err
		}
		if entry.FileInfo().IsDir() || !entry.Mode().IsRegular() || isHidden(entry.Name) {
			z.body.skipped++
			continue
		}
		return z.read(name, entry)
	}
	z.in.release()
	return sentFile{}, io.EOF
}

// read unpacks an entry; what is wrong with it is its own.
func (z *zipFiles) read(name string, entry *zip.File) (sentFile, error) {
	f := sentFile{name: name}
	const encrypted = 1
	if entry.Flags&encrypted != 0 {
		f.err = damagedFile("The file is encrypted in its archive; pack it without a password.")
		return f, nil
	}
	r, err := entry.Open()
	if err != nil {
		f.err = damagedFile("The file can't be unpacked (" + clip(err.Error()) + ").")
		return f, nil //nolint:nilerr // it is the file's
	}
	defer func() { _ = r.Close() }()
	f, err = z.body.readFile(f, r)
	if err == nil {
		return f, z.body.grow(len(f.content))
	}
	var limited *engine.Error
	if errors.As(err, &limited) {
		return sentFile{name: name, err: limited}, nil
	}
	return sentFile{name: name, err: damagedFile("The file can't be unpacked (" + clip(err.Error()) + ").")}, nil
}

// tarFiles are those of a tar archive.
type tarFiles struct {
	body    *seasonBody
	entries *tar.Reader
	// in is the file that it is, nil for the whole body.
	in *sentFile
}

// next implements files.
func (t *tarFiles) next() (sentFile, error) {
	for {
		entry, err := t.entries.Next()
		if err != nil {
			return t.end(err)
		}
		if err := t.body.count(); err != nil {
			return sentFile{}, err
		}
		if entry.Typeflag != tar.TypeReg || isHidden(entry.Name) {
			t.body.skipped++
			continue
		}
		in := ""
		if t.in != nil {
			in = t.in.name
		}
		f, err := t.body.readFile(sentFile{name: entryName(in, entry.Name)}, t.entries)
		if err != nil {
			return t.end(err)
		}
		return f, t.body.grow(len(f.content))
	}
}

// end is the end of the archive, which may come too early: of a file in a form that is one bad
// file, behind which others come.
func (t *tarFiles) end(err error) (sentFile, error) {
	if t.in == nil {
		return sentFile{}, err
	}
	name := t.in.name
	t.in.release()
	t.entries = tar.NewReader(bytes.NewReader(nil)) // which ends
	if errors.Is(err, io.EOF) {
		return sentFile{}, io.EOF
	}
	return sentFile{name: name, err: damagedFile("The tar archive can't be read any further (" + clip(err.Error()) + "); pack it or send it again.")}, nil
}

// count counts an entry of an archive against the limit.
func (b *seasonBody) count() error {
	if b.entries++; b.entries > engine.MostEntries {
		return tooManyEntries(b.entries)
	}
	return nil
}

func tooManyEntries(n int) error {
	return &engine.Error{
		Code: engine.CodeTooMany, Limit: engine.MostEntries, Actual: float64(n),
		Detail: "The archives have too many entries; pack the route files alone.",
	}
}

// grow counts bytes that came of an archive against the limit.
func (b *seasonBody) grow(n int) error {
	most := b.server.engine.SeasonBytes()
	if b.unpacked += n; b.unpacked > most {
		return seasonTooLarge(int64(most))
	}
	return nil
}

// isHidden reports whether an entry is none that somebody packed on purpose.
func isHidden(name string) bool {
	for _, part := range strings.Split(strings.ReplaceAll(name, `\`, "/"), "/") {
		if strings.HasPrefix(part, ".") && part != "." && part != ".." || part == "__MACOSX" || part == "Thumbs.db" || part == "desktop.ini" {
			return true
		}
	}
	return false
}

// entryName is what an entry of an archive is called: its own name, in that of an archive that
// is itself one of several files.
func entryName(archive, name string) string {
	if archive != "" {
		name = archive + "/" + name
	}
	return shownName(name)
}

// mostNameRunes bounds the names of rounds, as round_id in JSON.
const mostNameRunes = 200

// shownName is a name as it is told: it leads nowhere, and is only told.
func shownName(name string) string {
	name = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(strings.ReplaceAll(name, `\`, "/"), "\uFFFD"))
	name = strings.TrimPrefix(path.Clean("/"+name), "/")
	if runes := []rune(name); len(runes) > mostNameRunes {
		name = string(runes[:mostNameRunes])
	}
	return name
}
