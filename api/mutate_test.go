package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"

	"parcours.example/service/engine"
)

// mutation damages a file in a way that files are damaged or forged.
type mutation struct {
	name string
	do   func(r *rand.Rand, file []byte) []byte
}

var mutations = []mutation{
	{"bit flips", func(r *rand.Rand, f []byte) []byte {
		for range 1 + r.IntN(4) {
			f[r.IntN(len(f))] ^= 1 << r.IntN(8)
		}
		return f
	}},
	{"truncation", func(r *rand.Rand, f []byte) []byte { return f[:r.IntN(len(f))] }},
	{"other digits", func(r *rand.Rand, f []byte) []byte {
		for range 1 + r.IntN(20) {
			if i := r.IntN(len(f)); f[i] >= '0' && f[i] <= '9' {
				f[i] = byte('0' + r.IntN(10))
			}
		}
		return f
	}},
	{"a token swapped", func(r *rand.Rand, f []byte) []byte {
		tokens := []string{"trkpt", "trkseg", "trk", "rtept", "rte", "wpt", "ele", "name", "lat=", "lon=", "gpx", "/>", "</", "\"", "&", "<", ">"}
		return replaceOne(r, f, pick(r, tokens), pick(r, tokens))
	}},
	{"an odd number", func(r *rand.Rand, f []byte) []byte {
		odd := []string{"NaN", "Inf", "1e400", "-0", "0x10", "1_000", "91", "-181", "", " 12 ", "123,4", "99999999999999999999", "1e-320", "\u0663"}
		at := bytes.IndexAny(f[r.IntN(len(f)):], "0123456789")
		if at < 0 {
			return f
		}
		end := at + 1 + r.IntN(8)
		return slices.Concat(f[:at], []byte(pick(r, odd)), f[min(end, len(f)):])
	}},
	{"an element deleted", func(r *rand.Rand, f []byte) []byte {
		from, to := element(r, f)
		return slices.Delete(f, from, to)
	}},
	{"an element again", func(r *rand.Rand, f []byte) []byte {
		from, to := element(r, f)
		return slices.Insert(f, to, bytes.Repeat(bytes.Clone(f[from:to]), 1+r.IntN(20))...)
	}},
	{"stretches swapped", func(r *rand.Rand, f []byte) []byte {
		cut := []int{r.IntN(len(f)), r.IntN(len(f)), r.IntN(len(f))}
		slices.Sort(cut)
		return slices.Concat(f[:cut[0]], f[cut[1]:cut[2]], f[cut[0]:cut[1]], f[cut[2]:])
	}},
	{"an encoding lie", func(r *rand.Rand, f []byte) []byte {
		heads := []string{
			"\xff\xfe", "\xfe\xff", "\xef\xbb\xbf", `<?xml version="1.0" encoding="UTF-16"?>`, `<?xml version="1.0" encoding="ISO-8859-1"?>`,
			`<?xml version="1.0" encoding="EBCDIC"?>`, `<?xml version="1.1"?>`, "\x00", "  \n",
		}
		if i := bytes.Index(f, []byte("?>")); i > 0 && r.IntN(2) == 0 {
			f = f[i+2:]
		}
		return append([]byte(pick(r, heads)), f...)
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
	{"untouched", func(_ *rand.Rand, f []byte) []byte { return f }},
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

// patience is how long an answer may take before it is said never to come.
const patience = 2 * time.Minute

// TestMutatedFiles sends damaged files to every call that takes one. Whatever
// comes, nothing panics, nothing answers 5xx or outside the contract, and what is
// still a course is answered as one.
func TestMutatedFiles(t *testing.T) {
	n := 5000
	switch {
	case os.Getenv("PARCOURS_FULL") != "":
		n = 100_000
	case testing.Short():
		n = 500
	}
	h := newHarness(t, engine.Config{CacheBytes: 16 << 20, QueueWait: time.Minute})
	seeds := mutationSeeds(t)
	r := rand.New(rand.NewPCG(20261125, 9))
	answered, statuses := map[string]int{}, map[int]int{}
	for i := range n {
		m := mutations[r.IntN(len(mutations))]
		file := m.do(r, bytes.Clone(seeds[r.IntN(len(seeds))]))
		for file != nil && r.IntN(4) == 0 && len(file) > 0 { // some twice and more
			file = mutations[r.IntN(len(mutations))].do(r, file)
		}
		ctx, cancel := context.WithTimeout(t.Context(), patience)
		q := mutantRequest(r, file).WithContext(ctx)
		w := h.serve(q)
		if ctx.Err() != nil {
			t.Errorf("no answer within %v", patience)
		}
		cancel()
		statuses[w.Code]++
		checkMutant(t, h, q, w, i)
		if w.Code == http.StatusOK {
			answered[m.name]++
		}
		if t.Failed() {
			t.Fatalf("mutant %d (%s): status %d: %.500s\n%.2000s", i, m.name, w.Code, w.Body, file)
		}
	}
	t.Logf("%d mutants: statuses %v; answered %v", n, statuses, answered)
	if strings.Contains(h.log.String(), `"panic"`) {
		t.Error("something panicked; see the log")
	}
	if statuses[http.StatusOK]*5 < n {
		t.Errorf("%d of %d mutants were answered, want a fifth at least: the mutations are too rough to test anything behind the reader", statuses[http.StatusOK], n)
	}
}

// mutantRequest sends a file in one of the ways that files are sent.
func mutantRequest(r *rand.Rand, file []byte) *http.Request {
	types := []string{"", "application/x-www-form-urlencoded", "application/octet-stream"}
	if bytes.Contains(file, []byte("<gpx")) {
		types = append(types, "application/gpx+xml", "text/xml", "Application/GPX+XML; charset=utf-8")
	}
	targets := []string{
		"/v1/courses", "/v1/courses", "/v1/courses?laps=2", "/v1/courses?smoothing=none", "/v1/courses?reverse=true&include=profile,geometry",
		"/v1/briefs?max_chars=400", "/v1/briefs?rider=mass=70,power=220",
	}
	if r.IntN(100) == 0 { // a plan takes long, and damaged courses are hundreds of kilometres long
		targets = []string{"/v1/briefs?rider=mass=70,cp=220,wprime=15000,effort=best"}
	}
	contentType := pick(r, types)
	if r.IntN(10) == 0 {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		z.Write(file) //nolint:errcheck // writing to memory
		z.Close()     //nolint:errcheck // writing to memory
		q := request(http.MethodPost, pick(r, targets), contentType, b.Bytes())
		q.Header.Set("Content-Encoding", "gzip")
		return q
	}
	return request(http.MethodPost, pick(r, targets), contentType, file)
}

// checkMutant holds a mutant's answer against the contract: problems whole, of
// results every tenth, because the schema of a long one takes longer than the rest.
func checkMutant(t *testing.T, h *harness, q *http.Request, reply *httptest.ResponseRecorder, i int) {
	t.Helper()
	switch {
	case reply.Code >= 500:
		t.Errorf("status %d", reply.Code)
	case reply.Code != http.StatusOK || i%10 == 0:
		h.check(t, q, reply)
	case !json.Valid(reply.Body.Bytes()):
		t.Error("the answer isn't JSON")
	}
	if reply.Code != http.StatusOK {
		var p struct{ Type string }
		if err := json.Unmarshal(reply.Body.Bytes(), &p); err != nil || !strings.HasPrefix(p.Type, "/problems/") {
			t.Errorf("no problem: %v", fmt.Sprint(err, p))
		}
	}
}
