package trials

import (
	"bytes"
	"fmt"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/klauspost/compress/gzip"

	"parcours.example/internal/figures"
	"parcours.example/internal/replica"
)

// What memory a request may take, in bytes for each byte of its body as it is decoded, or for
// each of its points where they are written shorter than anybody writes them; and the memory of
// a container that all together may not pass.
const (
	mostPerByte    = 16
	mostPerPoint   = 640
	containerBytes = 3 << 30
)

// weighty is a body that takes much memory for its size.
type weighty struct {
	name, path, mediaType string
	body                  []byte
	// decoded is its size once it is decoded, points how many it has.
	decoded, points int
	hostile         bool
}

// T6: what the worst bodies of each kind take above an idle service: the most memory that the
// process ever had, with a garbage collector that lets nothing lie about for long.
func TestT06MemoryOfARequest(t *testing.T) {
	size := 2 << 20
	if inFull() {
		size = 30 << 20
	}
	for _, w := range weightyBodies(size) {
		p := launched(t, "GOGC=10")
		c := stranger(t, p)
		idle := most(t, p)
		status, _, answer := c.post(t.Context(), w.path, w.mediaType, w.body)
		taken := most(t, p) - idle
		p.Kill()
		figures.Report(t, "T6", "%s, %.1f MiB, answered %s: %.0f MiB above idle, %.1f times what was decoded",
			w.name, mebibytes(len(w.body)), status, mebibytes(taken), float64(taken)/float64(w.decoded))
		if w.hostile == (status == "200") || status[0] == '5' {
			t.Errorf("%s: %s: %.200s", w.name, status, answer)
		}
		const spare = 32 << 20 // a collector that is late costs more than a small body
		if limit := max(mostPerByte*w.decoded, mostPerPoint*w.points) + spare; taken > limit {
			t.Errorf("%s: %.0f MiB, more than %.0f", w.name, mebibytes(taken), mebibytes(limit))
		}
	}
}

// T6: with as many of the worst bodies as come, a service that is told how much memory it has
// stays within it, and answers or refuses each of them.
func TestT06MemoryOfACrowd(t *testing.T) {
	size, callers, rounds := 2<<20, 8, 1
	if inFull() {
		size, callers, rounds = 30<<20, 16, 3
	}
	p := launched(t, fmt.Sprintf("GOMEMLIMIT=%d", containerBytes*9/10))
	c := stranger(t, p)
	bodies := weightyBodies(size)
	var all sync.WaitGroup
	for k := range callers {
		all.Go(func() {
			for i := range rounds * len(bodies) {
				w := bodies[(k+i)%len(bodies)]
				status, header, _ := c.post(t.Context(), w.path, w.mediaType, w.body)
				if got := class(status, header); got != "200" && got != turnedAway && (got < "400" || got >= "430") {
					t.Errorf("%s: %s", w.name, got)
				}
			}
		})
	}
	all.Wait()
	peak := most(t, p)
	figures.Report(t, "T6", "%d callers with bodies of %.0f MiB: %.0f MiB at most, of %.0f", callers, mebibytes(size), mebibytes(peak), mebibytes(containerBytes))
	if peak > containerBytes {
		t.Errorf("%.0f MiB", mebibytes(peak))
	}
	select {
	case <-p.Exited():
		t.Error("the service ended")
	default:
	}
}

func mebibytes(n int) float64 { return float64(n) / (1 << 20) }

// most is the most memory that a process had resident so far, in bytes.
func most(t *testing.T, p *replica.Process) int {
	t.Helper()
	return memory(t, p, "VmHWM:")
}

// memory is what the system says about a process's memory in some field, in bytes.
func memory(t *testing.T, p *replica.Process, field string) int {
	t.Helper()
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", p.PID()))
	if err != nil {
		t.Skip(err) // no Linux
	}
	_, after, _ := strings.Cut(string(status), field)
	n, err := strconv.Atoi(strings.Fields(after)[0])
	if err != nil {
		t.Fatal(err)
	}
	return n << 10
}

// weightyBodies are the worst of each kind of about a size, as small as their elements can be
// and as many, and what is made to be worse still.
func weightyBodies(size int) []weighty {
	const head, tail = `<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1">`, `</gpx>`
	fill := func(before, after, format string, n func(i int) []any) []byte {
		var b bytes.Buffer
		b.WriteString(before)
		for i := 0; b.Len()+len(after) < size && i < 999_999; i++ { // with the first of some, as many points as are taken
			fmt.Fprintf(&b, format, n(i)...)
		}
		b.WriteString(after)
		return b.Bytes()
	}
	at := func(i int) []any { return []any{float64(i%900_000) * 1e-4, i % 180} }
	north := func(i int) []any { return []any{10 + float64(i+1)*4e-5} } // 4.4 m further each
	none := func(int) []any { return nil }
	track := fill(head+`<trk><trkseg>`, `</trkseg></trk>`+tail, `<trkpt lat="%.5f" lon="3"/>`, north)
	course := `{"course":{"file":{"content":"`
	escaped := strings.ReplaceAll(string(track[:size*8/10]), `"`, `\"`)
	var zipped bytes.Buffer
	z := gzip.NewWriter(&zipped)
	_, _ = z.Write(track) // to memory
	_ = z.Close()
	all := []weighty{
		{name: "GPX, the smallest points", path: "/v1/courses", mediaType: "application/gpx+xml", body: track},
		{name: "the same packed", path: "/v1/courses", mediaType: "application/gpx+xml", body: zipped.Bytes(), decoded: len(track)},
		{name: "table of distances", path: "/v1/courses", mediaType: "text/csv", body: fill("distance,elevation\n", "", "%d,%d\n", func(i int) []any { return []any{i, i % 9} })},
		{name: "line of GeoJSON", path: "/v1/courses", mediaType: "application/geo+json", body: fill(`{"type":"LineString","coordinates":[[3,10]`, `]}`, `,[3,%.5f]`, north)},
		{name: "file in a prediction, broken off", path: "/v1/predictions", mediaType: "application/json", hostile: true, body: []byte(course + escaped + `"}},"riders":[{"mass_kg":70}],"effort":{"kind":"power","power_w":200}}`)},
		{name: "steps beyond their limit", path: "/v1/predictions", mediaType: "application/json", hostile: true, body: fill(`{"course":{"profile":{"distance_m":[0,1000]}},"riders":[{"mass_kg":70}],"effort":{"kind":"steps","steps":[{"end_m":1,"power_w":1}`, `]}}`, `,{"end_m":%d,"power_w":1}`, func(i int) []any { return []any{i + 2} })},
		{name: "empty segments", path: "/v1/courses", mediaType: "application/gpx+xml", hostile: true, body: fill(head+`<trk>`, `</trk>`+tail, `<trkseg/>`, none)},
		{name: "empty tracks", path: "/v1/courses", mediaType: "application/gpx+xml", hostile: true, body: fill(head, tail, `<trk/>`, none)},
		{name: "marks alone", path: "/v1/courses", mediaType: "application/gpx+xml", hostile: true, body: fill(head, tail, `<wpt lat="%.4f" lon="%d"/>`, func(i int) []any { return []any{at(i)[0].(float64) / 2, at(i)[1]} })},
		{name: "lists in lists", path: "/v1/predictions", mediaType: "application/json", hostile: true, body: bytes.Repeat([]byte("["), size)},
		{name: "names without end", path: "/v1/predictions", mediaType: "application/json", hostile: true, body: fill(`{"a":1`, `}`, `,"n%d":1`, func(i int) []any { return []any{i} })},
	}
	for i := range all {
		if all[i].decoded == 0 {
			all[i].decoded = len(all[i].body)
		}
		if !all[i].hostile {
			all[i].points = elements(all[i])
		}
	}
	return all
}

// elements is about how many points a body has, by what stands in front of each.
func elements(w weighty) int {
	return bytes.Count(w.body, []byte("<trkpt")) + bytes.Count(w.body, []byte("\n")) + bytes.Count(w.body, []byte(",["))
}
