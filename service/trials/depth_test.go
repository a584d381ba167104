package trials

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"

	"parcours.example/internal/figures"
	"parcours.example/internal/replica"
)

// hostile is a body that nests deeply or holds something very large.
type hostile struct {
	name, target, contentType string
	body                      []byte
	// coded says that the body is packed with gzip, harmless that it may be answered.
	coded, harmless bool
}

const (
	courses, predictions = "/v1/courses", "/v1/predictions"
	gpxHead              = `<gpx version="1.1"><trk><trkseg><trkpt lat="47" lon="3">`
	gpxTail              = `</trkpt><trkpt lat="47.1" lon="3"/></trkseg></trk></gpx>`
)

// deep returns bodies that nest so many levels deep, in every format that nests.
func deep(depth int) []hostile {
	nested := func(open, shut string) string { return strings.Repeat(open, depth) + strings.Repeat(shut, depth) }
	unclosed := func(head, open string) []byte { return []byte(head + strings.Repeat(open, depth)) }
	feature := func(geometry, more string) []byte {
		return []byte(`{"type":"Feature","properties":{` + more + `},"geometry":` + geometry + `}`)
	}
	all := []hostile{
		{name: "lists", target: predictions, contentType: "application/json", body: []byte(nested("[", "]"))},
		{name: "lists, broken off", target: predictions, contentType: "application/json", body: unclosed("", "[")},
		{name: "lists in a request", target: predictions, contentType: "application/json", body: []byte(`{"riders":` + nested("[", "]") + `}`)},
		{name: "a list in a file in a request", target: predictions, contentType: "application/json", body: []byte(`{"course":{"file":{"content":"` + nested("[", "]") + `"}}}`)},
		{name: "GeoJSON, lists", target: courses, contentType: "application/geo+json", body: []byte(nested("[", "]"))},
		{name: "GeoJSON, coordinates", target: courses, body: feature(`{"type":"LineString","coordinates":`+nested("[", "]")+`}`, "")},
		{name: "GeoJSON, coordinates broken off", target: courses, body: unclosed(`{"type":"LineString","coordinates":`, "[")},
		{name: "GeoJSON, properties", target: courses, body: feature(`null`, `"a":`+nested("[", "]"))},
		{name: "GPX, unknown elements", target: courses, body: []byte(gpxHead + "<extensions>" + nested("<a>", "</a>") + "</extensions>" + gpxTail)},
		{name: "GPX, broken off", target: courses, body: unclosed(gpxHead, "<a>")},
		{name: "XML, nothing known", target: courses, contentType: "application/xml", body: unclosed("", "<a>")},
		{name: "TCX, broken off", target: courses, body: unclosed("<TrainingCenterDatabase>", "<a>")},
		{name: "KML, broken off", target: courses, body: unclosed("<kml>", "<a>")},
	}
	if depth <= 1_000_000 { // or they are too large to be sent
		all = append(all,
			hostile{name: "objects", target: predictions, contentType: "application/json", body: []byte(strings.Repeat(`{"a":`, depth) + "1" + strings.Repeat("}", depth))},
			hostile{name: "GeoJSON, collections", target: courses, body: unclosed("", `{"type":"GeometryCollection","geometries":[`)[:min(30<<20, depth*43)]},
			hostile{name: "KML, folders", target: courses, body: unclosed("<kml>", "<Folder>")},
			hostile{name: "GPX, tracks", target: courses, body: unclosed(`<gpx version="1.1">`, "<trk>")},
		)
	}
	return all
}

// large returns bodies with one thing in them that is very large.
func large(mega int) []hostile {
	n := mega * 1_000_000
	request := func(more string) []byte {
		return []byte(`{"course":{"profile":{"distance_m":[0,1000]}},"riders":[{"mass_kg":70}],"effort":{"kind":"power","power_w":200}` + more + `}`)
	}
	long := strings.Repeat("x", n)
	keys := func(format string) string {
		var b strings.Builder
		for i := range n / 16 {
			fmt.Fprintf(&b, format, i)
		}
		return b.String()
	}
	inJSON := func(content []byte) []byte {
		return []byte(`{"course":{"file":{"encoding":"base64","content":"` + base64.StdEncoding.EncodeToString(content) + `"}},"riders":[{"mass_kg":70}],"effort":{"kind":"power","power_w":200}}`)
	}
	text := func(name string, body []byte) hostile { return hostile{name: name, target: courses, body: body} }
	asked := func(name string, body []byte) hostile {
		return hostile{name: name, target: predictions, contentType: "application/json", body: body}
	}
	harmless := func(b hostile) hostile {
		b.harmless = true
		return b
	}
	return []hostile{
		asked("a number", request(`,"start_m":`+strings.Repeat("9", n))),
		harmless(asked("a number's fraction", request(`,"start_m":0.`+strings.Repeat("9", n)))),
		asked("an exponent", request(`,"start_m":1e999999999`)),
		harmless(asked("an exponent's digits", request(`,"start_m":1e`+strings.Repeat("0", n)+"1"))),
		asked("a string", request(`,"setups":[{"name":"`+long+`"}]`)),
		asked("a string of escapes", []byte(`{"course":{"file":{"content":"`+strings.Repeat(`\u0001`, n/6)+`"}}}`)),
		asked("a name", request(`,"`+long+`":1`)),
		asked("names", request(`,"conditions":{`+strings.TrimSuffix(keys(`"k%08d":1,`), ",")+`}`)),
		asked("faults", []byte(`{"contests":[`+strings.Repeat(`{"scores":[`+strings.Repeat(`{"a":1,"b":2},`, 200)+`{}]},`, n/3000)+`{}]}`)),
		asked("riders", []byte(`{"riders":[`+strings.Repeat(`{},`, n/3)+`{}]}`)),
		asked("base64", inJSON(bytes.Repeat([]byte("x"), n*3/4))),
		harmless(asked("a file in base64", inJSON([]byte(gpxHead+"<!--"+strings.Repeat("x", n*3/4-1000)+"-->"+gpxTail)))),
		text("XML, a name", []byte("<gpx><"+long+"/></gpx>")),
		text("XML, a root", []byte("<"+long+"/>")),
		text("XML, an attribute", []byte(`<gpx a="`+long+`"/>`)),
		text("XML, attributes", []byte("<gpx "+keys(`a%08d="1" `)+"/>")),
		text("XML, namespaces", []byte("<gpx "+keys(`xmlns:a%08d="" `)+"/>")),
		text("XML, a comment", []byte("<gpx><!--"+long+"--></gpx>")),
		harmless(text("XML, references", []byte(gpxHead+"<name>"+strings.Repeat("&amp;", n/5)+"</name>"+gpxTail))),
		text("XML, an entity's definition", []byte(`<!DOCTYPE gpx [<!ENTITY a "`+long+`">]><gpx>&a;</gpx>`)),
		text("XML, a declaration", []byte("<?xml "+long+"?><gpx/>")),
		text("GPX, a coordinate", []byte(`<gpx version="1.1"><trk><trkseg><trkpt lat="4`+strings.Repeat("7", n)+`" lon="3"/></trkseg></trk></gpx>`)),
		text("GPX, empty tracks", []byte(`<gpx version="1.1">`+strings.Repeat("<trk/>", n/6)+`</gpx>`)),
		text("GPX, waypoints", []byte(`<gpx version="1.1">`+strings.Repeat(`<wpt lat="1" lon="1"/>`, n/22)+`</gpx>`)),
		text("KML, a coordinate", []byte("<kml><Placemark><LineString><coordinates>"+strings.Repeat("1", n)+"</coordinates></LineString></Placemark></kml>")),
		text("GeoJSON, features", []byte(`{"type":"FeatureCollection","features":[`+strings.Repeat(`{},`, n/3)+`{}]}`)),
		text("a table's line", []byte("distance,elevation\n"+strings.Repeat("1,", n/2))),
		text("a table's cell", []byte("distance,elevation\n1,"+strings.Repeat("1", n))),
		text("a table's quotes", []byte("distance,elevation\n1,\""+strings.Repeat("\n", n))),
		text("FIT, definitions", fitFile(bytes.Repeat(fitDefinition(), n/len(fitDefinition())))),
		text("FIT, a size by its own word", fitFile(nil)),
		{name: "a table's line, packed", target: courses, contentType: "text/csv", body: packed(longLine(4 * n)), coded: true},
	}
}

// fitFile is a FIT file around records; without any, one that says that it has four gigabytes
// of them.
func fitFile(records []byte) []byte {
	size := uint32(len(records))
	if records == nil {
		size = 1<<32 - 1
	}
	head := binary.LittleEndian.AppendUint32([]byte{14, 0x20, 0, 0}, size)
	head = append(head, ".FIT\x00\x00"...)
	return slices.Concat(head, records, []byte{0, 0})
}

// fitDefinition defines a record with as many fields as can be, each as long as can be.
func fitDefinition() []byte {
	d := []byte{0x40, 0, 0, 20, 0, 255}
	for i := range 255 {
		d = append(d, byte(i), 255, 13)
	}
	return d
}

// longLine is a table's line of so many bytes that packs well, but not as well as is refused.
func longLine(n int) []byte {
	random := rand.New(rand.NewPCG(1, 2))
	var piece bytes.Buffer
	for piece.Len() < 20_000 {
		fmt.Fprintf(&piece, "%d,", random.Uint64())
	}
	return append([]byte("distance,elevation\n"), bytes.Repeat(piece.Bytes(), n/piece.Len())...)
}

func packed(body []byte) []byte {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	_, _ = w.Write(body) // to memory
	_ = w.Close()
	return b.Bytes()
}

// TestT08DepthAndSize sends what nests deeply and what is very large to a process: it goes on,
// refuses it all, and says why in few words. A stack that overflows would end it.
func TestT08DepthAndSize(t *testing.T) {
	p := launched(t)
	depths, mega := []int{1000, 100_000, 1_000_000}, 3
	if os.Getenv("PARCOURS_FULL") == "1" {
		depths, mega = []int{1000, 10_000, 100_000, 1_000_000, 10_000_000}, 30
	}
	sent, deepest, largest := 0, slowest{}, slowest{}
	for _, depth := range depths {
		for _, b := range deep(depth) {
			b.name = fmt.Sprintf("%s, %d deep", b.name, depth)
			deepest.take(b.name, refused(t, p, b))
			sent++
		}
	}
	for _, b := range large(mega) {
		largest.take(b.name, refused(t, p, b))
		sent++
	}
	select {
	case <-p.Exited():
		t.Errorf("the process ended:\n%.2000s", p.Log())
	default:
	}
	if strings.Contains(p.Log(), `"panic"`) {
		t.Errorf("something panicked:\n%.2000s", p.Log())
	}
	figures.Report(t, "T8", "%d bodies, up to %d deep and %d MB large: 0 process deaths, no text of a refusal beyond 1 KiB; slowest by depth %v, by size %v",
		sent, depths[len(depths)-1], mega, deepest, largest)
}

// slowest is what took longest.
type slowest struct {
	name string
	took time.Duration
}

func (s *slowest) take(name string, took time.Duration) {
	if took > s.took {
		*s = slowest{name, took}
	}
}

// String tells it.
func (s slowest) String() string {
	return fmt.Sprintf("%d ms (%s)", s.took.Milliseconds(), s.name)
}

// refused sends a body and demands a short problem that blames it. It returns how long that
// took.
func refused(t *testing.T, p *replica.Process, b hostile) time.Duration {
	t.Helper()
	r, err := http.NewRequest(http.MethodPost, p.URL(b.target), bytes.NewReader(b.body)) //nolint:noctx // a test's
	if err != nil {
		t.Fatal(err)
	}
	if b.contentType != "" {
		r.Header.Set("Content-Type", b.contentType)
	}
	if b.coded {
		r.Header.Set("Content-Encoding", "gzip")
	}
	start := time.Now()
	reply, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Errorf("%s: %v\n%.2000s", b.name, err, p.Log())
		return 0
	}
	defer reply.Body.Close()
	said, err := io.ReadAll(reply.Body)
	took := time.Since(start)
	t.Logf("%-40s %d %4d ms %.300s", b.name, reply.StatusCode, took.Milliseconds(), said)
	var problem struct {
		Type, Detail string
		Errors       []fault
	}
	if b.harmless && reply.StatusCode == http.StatusOK {
		return took
	}
	if err != nil || reply.StatusCode < 400 || reply.StatusCode >= 500 || json.Unmarshal(said, &problem) != nil || !strings.HasPrefix(problem.Type, "/problems/") {
		t.Errorf("%s: status %d, %v: %.300s", b.name, reply.StatusCode, err, said)
	}
	if text := longest(problem.Detail, problem.Errors...); len(said) > 16<<10 || text >= 1<<10 {
		t.Errorf("%s: a problem of %d bytes, its longest text of %d: %.300s…", b.name, len(said), text, said)
	}
	return took
}

// fault is an entry of a problem's errors.
type fault struct{ Pointer, Parameter, Detail string }

// longest returns the length of the longest text.
func longest(text string, faults ...fault) int {
	n := len(text)
	for _, f := range faults {
		n = max(n, len(f.Pointer), len(f.Parameter), len(f.Detail))
	}
	return n
}
