package api_test

import (
	"bytes"
	"encoding/binary"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/muktihari/fit/kit/hash/crc16"
)

// mutation damages a body in a way that bodies are damaged or forged. It gets a copy of at
// least one byte, which it may change.
type mutation struct {
	name string
	do   func(r *rand.Rand, body []byte) []byte
}

// mutationsOf lists what is done to a body that looks like this one.
func mutationsOf(body []byte) []mutation {
	start := bytes.TrimLeft(body, "\xef\xbb\xbf \r\n\t")
	switch {
	case len(start) == 0:
		return byteMutations
	case start[0] == '<':
		return slices.Concat(byteMutations, textMutations, xmlMutations)
	case start[0] == '{' || start[0] == '[':
		return slices.Concat(byteMutations, textMutations, jsonMutations, jsonMutations)
	case len(body) > 12 && string(body[8:12]) == ".FIT":
		return slices.Concat(byteMutations, fitMutations, fitMutations)
	case body[0] == 0x1f || body[0] == 'P': // gzip, zip
		return byteMutations
	}
	return slices.Concat(byteMutations, textMutations, tableMutations)
}

// byteMutations damage any body.
var byteMutations = []mutation{
	{"bit flips", func(r *rand.Rand, f []byte) []byte {
		for range 1 + r.IntN(4) {
			f[r.IntN(len(f))] ^= 1 << r.IntN(8)
		}
		return f
	}},
	{"truncation", func(r *rand.Rand, f []byte) []byte { return f[:r.IntN(len(f))] }},
	{"stretches swapped", swapStretches},
	{"untouched", func(_ *rand.Rand, f []byte) []byte { return f }},
}

// textMutations damage text of any format.
var textMutations = []mutation{
	{"other digits", func(r *rand.Rand, f []byte) []byte {
		for range 1 + r.IntN(20) {
			if i := r.IntN(len(f)); f[i] >= '0' && f[i] <= '9' {
				f[i] = byte('0' + r.IntN(10))
			}
		}
		return f
	}},
	{"an odd number", func(r *rand.Rand, f []byte) []byte {
		odd := []string{"NaN", "Inf", "1e400", "-0", "0x10", "1_000", "91", "-181", "", " 12 ", "123,4", "99999999999999999999", "1e-320", "1e306", "-1.7e308", "\u0663"}
		from := r.IntN(len(f))
		at := bytes.IndexAny(f[from:], "0123456789")
		if at < 0 {
			return f
		}
		at += from
		end := at + 1 + r.IntN(8)
		return slices.Concat(f[:at], []byte(pick(r, odd)), f[min(end, len(f)):])
	}},
	{"an encoding lie", func(r *rand.Rand, f []byte) []byte {
		heads := []string{
			"\xff\xfe", "\xfe\xff", "\xef\xbb\xbf", `<?xml version="1.0" encoding="UTF-16"?>`, `<?xml version="1.0" encoding="ISO-8859-1"?>`,
			`<?xml version="1.0" encoding="EBCDIC"?>`, `<?xml version="1.1"?>`, "\x00", "  \n", "\u2028", "\u202e",
		}
		if r.IntN(4) == 0 {
			return inUTF16(r, f)
		}
		if i := bytes.Index(f, []byte("?>")); i > 0 && r.IntN(2) == 0 {
			f = f[i+2:]
		}
		return append([]byte(pick(r, heads)), f...)
	}},
	{"an odd character", func(r *rand.Rand, f []byte) []byte {
		return slices.Insert(f, r.IntN(len(f)), []byte(pick(r, oddText))...)
	}},
}

// oddText is what few expect in a text: controls, halves of characters, marks of direction.
var oddText = []string{
	"\x00", "\x1b[2J", "\xff", "\xc0\xaf", "\xed\xa0\x80", "\xf4\x90\x80\x80", "\u202e", "\u200b", "\ufeff", "\U0001f6b4\u200d\u2642", "e\u0301\u0301\u0301",
	"\u2028", "\r", "'", "\"", "\\", "%00", "<b>", "&lt;", "{{.}}", "${x}", "\t",
}

// xmlMutations damage GPX, KML and TCX.
var xmlMutations = []mutation{
	{"a token swapped", func(r *rand.Rand, f []byte) []byte {
		tokens := []string{"Trackpoint", "coordinates", "Placemark", "LineString", "Position", "trkpt", "trkseg", "trk", "rtept", "rte", "wpt", "ele", "name", "lat=", "lon=", "gpx", "/>", "</", "\"", "&", "<", ">"}
		return replaceOne(r, f, pick(r, tokens), pick(r, tokens))
	}},
	{"an element deleted", func(r *rand.Rand, f []byte) []byte {
		from, to := element(r, f)
		return slices.Delete(f, from, to)
	}},
	{"an element again", func(r *rand.Rand, f []byte) []byte {
		from, to := element(r, f)
		return slices.Insert(f, to, bytes.Repeat(bytes.Clone(f[from:to]), 1+r.IntN(20))...)
	}},
	{"a depth bomb", func(r *rand.Rand, f []byte) []byte {
		depth := 1 << r.IntN(14)
		return insertAtTag(r, f, strings.Repeat("<x>", depth)+strings.Repeat("</x>", r.IntN(2)*depth))
	}},
	{"an entity trick", func(r *rand.Rand, f []byte) []byte {
		tricks := []string{"&a;", "&amp;", "&#0;", "&#x41;", "&#xD800;", "<![CDATA[<trkpt>]]>", "<!-- x -->", "<?php x ?>", "<!DOCTYPE x>"}
		if r.IntN(3) == 0 {
			return append([]byte(`<!DOCTYPE gpx [<!ENTITY a "&b;&b;"><!ENTITY b "bbbb">]>`), f...)
		}
		return insertAtTag(r, f, pick(r, tricks))
	}},
	{"many of an element", func(r *rand.Rand, f []byte) []byte {
		many := []string{`<wpt lat="47" lon="3"/>`, "<trk/>", "<trkseg/>", `<rte/>`, "<extensions><a/></extensions>"}
		return insertAtTag(r, f, strings.Repeat(pick(r, many), r.IntN(3000)))
	}},
	{"a foreign namespace", func(r *rand.Rand, f []byte) []byte {
		return replaceOne(r, f, "<ele>", `<x:ele xmlns:x="urn:x">9</x:ele><ele>`)
	}},
}

// tableMutations damage tables.
var tableMutations = []mutation{
	{"another separator", func(r *rand.Rand, f []byte) []byte {
		return bytes.ReplaceAll(f, []byte(","), []byte(pick(r, []string{";", "\t", "|", " ", ",,", "\x00"})))
	}},
	{"another column", func(r *rand.Rand, f []byte) []byte {
		names := []string{"latitude", "longitude", "elevation", "distance", "lat", "lon", "x", "", "name", "\"", "ele,ele"}
		return replaceOne(r, f, pick(r, []string{"lat", "lon", "ele", "dist"}), pick(r, names))
	}},
	{"a quotation", func(r *rand.Rand, f []byte) []byte { return slices.Insert(f, r.IntN(len(f)), '"') }},
	{"a line again", func(r *rand.Rand, f []byte) []byte {
		lines := bytes.SplitAfter(f, []byte("\n"))
		i := r.IntN(len(lines))
		return slices.Concat(f, bytes.Repeat(lines[i], 1+r.IntN(50)))
	}},
	{"other ends of lines", func(r *rand.Rand, f []byte) []byte {
		return bytes.ReplaceAll(f, []byte("\n"), []byte(pick(r, []string{"\r\n", "\r", "\n\n", "\v", " \n"})))
	}},
}

// fitMutations damage FIT behind a checksum that is right.
var fitMutations = []mutation{
	{"checked bit flips", func(r *rand.Rand, f []byte) []byte {
		for range 1 + r.IntN(4) {
			f[r.IntN(len(f))] ^= 1 << r.IntN(8)
		}
		return checked(f)
	}},
	{"checked bytes again", func(r *rand.Rand, f []byte) []byte {
		from := r.IntN(len(f))
		to := min(len(f), from+r.IntN(60))
		return checked(slices.Insert(f, to, bytes.Repeat(bytes.Clone(f[from:to]), 1+r.IntN(20))...))
	}},
	{"checked bytes deleted", func(r *rand.Rand, f []byte) []byte {
		from := r.IntN(len(f))
		return checked(slices.Delete(f, from, min(len(f), from+r.IntN(60))))
	}},
	{"a lie about the size", func(r *rand.Rand, f []byte) []byte {
		if len(f) > 8 {
			binary.LittleEndian.PutUint32(f[4:], r.Uint32()>>r.IntN(32))
		}
		return f
	}},
}

// checked mends the size and the checksums of a FIT file.
func checked(f []byte) []byte {
	const head, sum = 14, 2
	if len(f) < head+sum {
		return f
	}
	binary.LittleEndian.PutUint32(f[4:], uint32(len(f)-head-sum)) //nolint:gosec // files are small
	for _, end := range []int{head - sum, len(f) - sum} {
		h := crc16.New()
		h.Write(f[:end]) //nolint:errcheck // a hash takes everything
		binary.LittleEndian.PutUint16(f[end:], h.Sum16())
	}
	return f
}

func swapStretches(r *rand.Rand, f []byte) []byte {
	cut := []int{r.IntN(len(f)), r.IntN(len(f)), r.IntN(len(f))}
	slices.Sort(cut)
	return slices.Concat(f[:cut[0]], f[cut[1]:cut[2]], f[cut[0]:cut[1]], f[cut[2]:])
}

// inUTF16 writes text in UTF-16, sometimes without the mark.
func inUTF16(r *rand.Rand, f []byte) []byte {
	text := string(f)
	if r.IntN(3) > 0 {
		text = "\ufeff" + text
	}
	var out []byte
	for _, unit := range utf16.Encode([]rune(text)) {
		out = binary.LittleEndian.AppendUint16(out, unit)
	}
	return out
}

func pick(r *rand.Rand, list []string) string { return list[r.IntN(len(list))] }

// replaceOne replaces one occurrence at or after a random place.
func replaceOne(r *rand.Rand, f []byte, old, replacement string) []byte {
	from := r.IntN(len(f))
	i := bytes.Index(f[from:], []byte(old))
	if i < 0 {
		return f
	}
	i += from
	return slices.Concat(f[:i], []byte(replacement), f[i+len(old):])
}

// insertAtTag inserts text in front of a tag.
func insertAtTag(r *rand.Rand, f []byte, text string) []byte {
	from := r.IntN(len(f))
	i := bytes.IndexByte(f[from:], '<')
	if i < 0 {
		return append(f, text...)
	}
	return slices.Insert(f, from+i, []byte(text)...)
}

// element returns the bounds of an element without children, roughly.
func element(r *rand.Rand, f []byte) (from, to int) {
	at := r.IntN(len(f))
	from = bytes.LastIndexByte(f[:at], '<')
	if from < 0 {
		return at, at
	}
	end := bytes.IndexByte(f[at:], '>')
	if end < 0 {
		return at, at
	}
	return from, at + end + 1
}

// mutationSeeds are small files: stretches of the season's and the recorded ones.
func mutationSeeds(t testing.TB) [][]byte {
	t.Helper()
	seeds := [][]byte{
		readFile(t, "testdata/examples/orchard-loop.gpx"),
		readFile(t, "testdata/season/quellmere-criterium-lap.gpx"),
		[]byte(`<gpx version="1.1"><rte><rtept lat="47" lon="3"><ele>1</ele></rtept><rtept lat="47.01" lon="3.02"/><rtept lat="47.02" lon="3.01"/></rte></gpx>`),
		[]byte(`<g:gpx xmlns:g="http://www.topografix.com/GPX/1/0" version="1.0"><g:trk><g:trkseg><g:trkpt lat="1" lon="2"/><g:trkpt lat="1.1" lon="2"/></g:trkseg></g:trk></g:gpx>`),
	}
	for _, extension := range []string{"fit", "tcx", "geojson", "kml", "csv", "profile.csv", "gpx.gz"} {
		seeds = append(seeds, readFile(t, "testdata/examples/orchard-loop."+extension))
	}
	for _, name := range []string{
		"season/skarnholt-hill-climb.gpx", "season/hoskerrow-eight-rounded.gpx", "season/quellmere-criterium-recorded.gpx",
		"recorded/city-ride.gpx", "recorded/mojstrovka.gpx", "recorded/route-with-cues.gpx", "recorded/iso-8859-1.gpx",
	} {
		seeds = append(seeds, head(readFile(t, "testdata/"+name), 100))
	}
	return seeds
}

// head returns a file with its first points alone, closed again.
func head(file []byte, points int) []byte {
	end := 0
	for range points {
		i := bytes.Index(file[end:], []byte("</trkpt>"))
		if i < 0 {
			return file
		}
		end += i + len("</trkpt>")
	}
	return slices.Concat(file[:end], []byte("</trkseg></trk></gpx>"))
}
