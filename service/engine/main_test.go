package engine

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	dto "github.com/prometheus/client_model/go"
	"go.uber.org/goleak"

	"parcours.example/analysis/course"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// newEngine returns an engine that ends with the test.
func newEngine(t testing.TB, cfg Config) *Engine {
	t.Helper()
	e, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(e.Close)
	return e
}

// gpx returns a file with a line that runs north over a hill, n points 20 m apart,
// with a summit half way.
func gpx(name string, n int) []byte {
	const stepDeg = 20 / 111_195.0
	var b strings.Builder
	fmt.Fprintf(&b, `<?xml version="1.0" encoding="UTF-8"?>`+"\n"+
		`<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">`+"\n"+
		`<wpt lat="%.7f" lon="3.1000000"><name>Hill of Oster</name><type>summit</type></wpt>`+"\n<trk><name>%s</name><trkseg>\n",
		47.3+float64(n/2)*stepDeg, name)
	for i := range n {
		ele := 200 + 60*math.Sin(math.Pi*float64(i)/float64(n-1))
		fmt.Fprintf(&b, "<trkpt lat=\"%.7f\" lon=\"3.1000000\"><ele>%.2f</ele></trkpt>\n", 47.3+float64(i)*stepDeg, ele)
	}
	b.WriteString("</trkseg></trk>\n</gpx>\n")
	return []byte(b.String())
}

// fromFile is a source with default options.
func fromFile(content []byte) CourseSource {
	return CourseSource{File: &File{Content: content}, Options: CourseOptions{Options: course.Defaults()}}
}

// fromProfile is a source with default options: n samples 50 m apart on a slope
// that seed shapes.
func fromProfile(n, seed int) CourseSource {
	p := &Profile{}
	for i := range n {
		p.DistanceM = append(p.DistanceM, 50*float64(i))
		p.ElevationM = append(p.ElevationM, 100+30*math.Sin(float64(i)/20+float64(seed)))
	}
	return CourseSource{Profile: p, Options: CourseOptions{Options: course.Defaults()}}
}

// runs returns how often a stage has run.
func (e *Engine) runs(t testing.TB, s stage) int {
	t.Helper()
	return int(read(t, e.meter.seconds.WithLabelValues(string(s)).(prometheus.Metric)).GetHistogram().GetSampleCount())
}

// counted returns a counter's value.
func counted(t testing.TB, c prometheus.Counter) int {
	t.Helper()
	return int(read(t, c).GetCounter().GetValue())
}

func read(t testing.TB, m prometheus.Metric) *dto.Metric {
	t.Helper()
	var out dto.Metric
	if err := m.Write(&out); err != nil {
		t.Fatal(err)
	}
	return &out
}

// eventually waits until the condition holds.
func eventually(t testing.TB, what string, holds func() bool) {
	t.Helper()
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	deadline := time.After(20 * time.Second)
	for !holds() {
		select {
		case <-tick.C:
		case <-deadline:
			t.Fatalf("waited in vain for: %s", what)
		}
	}
}
