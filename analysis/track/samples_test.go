package track_test

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// measured writes a sample as "clock elevation distance speed power cadence", after a bar
// where it begins a segment and without what is missing.
func measured(s track.Sample) string {
	var b strings.Builder
	if s.Begins {
		b.WriteString("| ")
	}
	for i, v := range []float64{s.ClockS, s.ElevationM, s.DistanceM, s.SpeedMPS, s.PowerW, s.CadenceRPM} {
		if !math.IsNaN(v) {
			fmt.Fprintf(&b, "%c%s ", "tedspc"[i], strconv.FormatFloat(v, 'f', -1, 64))
		}
	}
	if s.Pos != (geodesy.Vec{}) {
		lat, lon := s.Pos.Degrees()
		fmt.Fprintf(&b, "at %.3f %.3f", lat, lon)
	}
	return strings.TrimSpace(b.String())
}

func wantSamples(t *testing.T, got *track.Samples, err error, want, flaws []string) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	var samples, codes []string
	for _, s := range got.Samples {
		samples = append(samples, measured(s))
	}
	for _, f := range got.Flaws {
		codes = append(codes, fmt.Sprintf("%s %d×%d", f.Code, f.Sample, f.Count))
	}
	if !slices.Equal(samples, want) {
		t.Errorf("samples\n%s\nwant\n%s", strings.Join(samples, "\n"), strings.Join(want, "\n"))
	}
	if !slices.Equal(codes, flaws) {
		t.Errorf("flaws %q, want %q", codes, flaws)
	}
}

// TestReadGPXSamples reads points as different devices write them: what is measured stands
// in the point or in extensions of any depth and namespace.
func TestReadGPXSamples(t *testing.T) {
	const file = `<?xml version="1.0"?>
<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1" xmlns:a="urn:a" xmlns:b="urn:b">
<metadata><time>2020-01-01T00:00:00Z</time></metadata>
<wpt lat="1" lon="1"><time>1970-01-01T00:00:09Z</time></wpt>
<rte><rtept lat="1" lon="1"><time>1970-01-01T00:00:09Z</time></rtept></rte>
<trk><name>9</name><trkseg>
<trkpt lat="45" lon="7"><ele>300.5</ele><time>1970-01-01T00:00:01Z</time><extensions><power>210</power></extensions></trkpt>
<trkpt lat="45" lon="7.001"><time>1970-01-01T00:00:02Z</time><speed>8.5</speed><extensions><a:x><a:y><a:cad>90</a:cad></a:y><b:PowerInWatts>220</b:PowerInWatts></a:x></extensions></trkpt>
</trkseg><trkseg>
<trkpt lat="45" lon="7.002"><time>1970-01-01T01:00:03+01:00</time><extensions><Watts> 230 </Watts><power>1</power><distance>12.5</distance></extensions></trkpt>
<trkpt lat="145" lon="7.002"><ele>high</ele><time>noon</time><extensions><power>many</power><cadence/></extensions></trkpt>
<trkpt lon="7.002"><time>1970-01-01T00:00:05Z</time><!-- no latitude --></trkpt>
</trkseg></trk>
<trk><trkseg><trkpt lat="45" lon="7.003"><time>1970-01-01T00:00:06Z</time></trkpt></trkseg></trk>
</gpx>`
	got, err := track.ReadGPXSamples(context.Background(), []byte(file), track.Limits{})
	wantSamples(t, got, err, []string{
		"| t1 e300.5 p210 at 45.000 7.000",
		"t2 s8.5 p220 c90 at 45.000 7.001",
		"| t3 d12.5 p230 at 45.000 7.002",
		"",
		"t5",
		"| t6 at 45.000 7.003",
	}, []string{"position-unreadable 3×1", "elevation-unreadable 3×1", "time-unreadable 3×1", "power-unreadable 3×1"})
}

func TestReadTCXSamples(t *testing.T) {
	const file = `<TrainingCenterDatabase xmlns="urn:t">
<Folders><Running/></Folders>
<Activities><Activity Sport="Biking"><Id>x</Id><Lap StartTime="1970-01-01T00:00:00Z"><DistanceMeters>99</DistanceMeters><Cadence>9</Cadence><Track>
<Trackpoint><Time>1970-01-01T00:00:01Z</Time><Position><LatitudeDegrees>45</LatitudeDegrees><LongitudeDegrees>7</LongitudeDegrees></Position>
<AltitudeMeters>300</AltitudeMeters><DistanceMeters>5</DistanceMeters><HeartRateBpm><Value>140</Value></HeartRateBpm><Cadence>88</Cadence>
<Extensions><TPX xmlns="urn:x"><Speed>9.1</Speed><Watts>240</Watts></TPX></Extensions></Trackpoint>
</Track><Extensions><Watts>1</Watts></Extensions></Lap><Lap><Track>
<Trackpoint><Time>1970-01-01T00:00:02Z</Time></Trackpoint></Track></Lap></Activity>
<MultiSportSession><FirstSport><Activity><Lap><Track><Trackpoint><Time>1970-01-01T00:00:03Z</Time></Trackpoint></Track></Lap></Activity></FirstSport></MultiSportSession>
</Activities>
<Courses><Course><Track><Trackpoint><Time>1970-01-01T00:00:04Z</Time></Trackpoint></Track></Course></Courses>
</TrainingCenterDatabase>`
	got, err := track.ReadTCXSamples(context.Background(), []byte(file), track.Limits{})
	wantSamples(t, got, err, []string{"| t1 e300 d5 s9.1 p240 c88 at 45.000 7.000", "| t2", "| t3"}, nil)
}

// TestReadXMLSamplesInDisorder reads elements where they don't belong.
func TestReadXMLSamplesInDisorder(t *testing.T) {
	for name, inside := range map[string]string{
		"point in point":         `<trkseg><trkpt lat="1" lon="1"><trkpt lat="2" lon="2"><time>1970-01-01T00:00:01Z</time></trkpt></trkpt></trkseg>`,
		"segment in point":       `<trkseg><trkpt lat="1" lon="1"><time>1970-01-01T00:00:01Z</time><trkseg><trkpt lat="2" lon="2"/></trkseg></trkpt></trkseg>`,
		"point without segment":  `<trkpt lat="1" lon="1"/><trkseg><trkpt lat="1" lon="1"><time>1970-01-01T00:00:01Z</time></trkpt></trkseg>`,
		"gpx in point":           `<trkseg><trkpt lat="1" lon="1"><time>1970-01-01T00:00:01Z</time><gpx/></trkpt></trkseg>`,
		"point in its extension": `<trkseg><trkpt lat="1" lon="1"><time>1970-01-01T00:00:01Z</time><extensions><trkpt lat="3" lon="3"/></extensions></trkpt></trkseg>`,
	} {
		got, err := track.ReadGPXSamples(context.Background(), []byte("<gpx version=\"1.1\"><trk>"+inside+"</trk></gpx>"), track.Limits{})
		if err != nil || len(got.Samples) != 1 || got.Samples[0].ClockS != 1 {
			t.Errorf("%s: %+v, %v", name, got, err)
		}
	}
}

// sampleFields are the fields of a record of a ride: time, power, cadence, speed.
var sampleFields = []fitField{{253, 4, fitUint32}, {7, 2, fitUint16}, {4, 1, 2}, {6, 2, fitUint16}}

const fitEvent, fitEpoch = 21, 631065600

func TestReadFITSamples(t *testing.T) {
	w := new(fitWriter)
	w.define(0, fitRecord, sampleFields, 0)
	w.define(1, fitRecord, sampleFields[1:], 0) // times in the messages' headers
	w.define(2, fitEvent, []fitField{{253, 4, fitUint32}, {0, 1, fitEnum}, {1, 1, fitEnum}}, 0)
	w.define(3, fitRecord, []fitField{{0, 4, fitSint32}, {1, 4, fitSint32}, {78, 4, fitUint32}, {73, 4, fitUint32}}, 0)
	w.message(3, semicircles(45), semicircles(7), altitude(300), int64(9000)) // no time yet
	w.message(0, int64(1000), int64(200), int64(90), int64(8500))
	w.compressed(1, 1001&31, noUint16, int64(255), noUint16)
	w.compressed(1, 1030&31, int64(210), int64(91), int64(8600))
	w.message(2, int64(1031), int64(0), int64(4)) // the timer stops
	w.message(2, int64(1100), int64(0), int64(0))
	w.message(3, semicircles(95), semicircles(7), altitude(300), noUint32)
	w.message(2, int64(1101), int64(9), int64(4)) // another event
	w.message(3, noSint32, semicircles(7), int64(4_000_000), noUint32)
	got, err := track.ReadFITSamples(context.Background(), append(w.file(), w.file()...), track.Limits{})
	one := []string{
		"t%d s8.5 p200 c90",
		"t%d",
		"t%d s8.6 p210 c91",
		"| t%d e300",
		"t%d",
	}
	want := []string{"| e300 s9 at 45.000 7.000"}
	for i, s := range one {
		want = append(want, fmt.Sprintf(s, fitEpoch+[]int{1000, 1001, 1030, 1100, 1101}[i]))
	}
	want = append(want, want...)
	wantSamples(t, got, err, want, []string{"position-out-of-range 4×2", "elevation-out-of-range 5×2"})
}

// TestReadFITSamplesOfBrokenFiles reads what is there of files that were cut, or whose
// header was never completed.
func TestReadFITSamplesOfBrokenFiles(t *testing.T) {
	w := new(fitWriter)
	w.define(0, fitRecord, sampleFields, 0)
	for i := range 10 {
		w.message(0, int64(1000+i), int64(200), int64(90), int64(8500))
	}
	whole := w.file()
	unfinished := slices.Clone(whole[:len(whole)-2])
	copy(unfinished[4:8], []byte{0, 0, 0, 0})
	for name, c := range map[string]struct {
		in      []byte
		samples int
		flaw    string
	}{
		"whole":           {whole, 10, ""},
		"unfinished":      {unfinished, 10, "file-breaks-off"},
		"cut":             {whole[:len(whole)-2-15], 8, "file-breaks-off"},
		"wrong checksum":  {change(slices.Clone(whole), -1), 10, "checksum-wrong"},
		"then no message": {append(slices.Clone(whole), 0xff, 0xff), 10, "content-after-end"},
	} {
		got, err := track.ReadFITSamples(context.Background(), c.in, track.Limits{})
		if err != nil || len(got.Samples) != c.samples || (c.flaw == "") != (got.Flaws == nil) || c.flaw != "" && got.Flaws[0].Code != c.flaw {
			t.Errorf("%s: %+v, %v", name, got, err)
		}
	}
	_, err := track.ReadFITSamples(context.Background(), whole[:40], track.Limits{})
	wantCode(t, err, track.CodeMalformed)
	_, err = track.ReadFITSamples(context.Background(), whole, track.Limits{Points: 9})
	wantCode(t, err, track.CodeTooMany)
	_, err = track.ReadGPXSamples(context.Background(), []byte("<kml/>"), track.Limits{})
	wantCode(t, err, track.CodeNotTheFormat)
	_, err = track.ReadGPXSamples(context.Background(), []byte(`<gpx version="1.1"><trk><trkseg><trkpt/><trkpt/>`), track.Limits{Points: 1})
	wantCode(t, err, track.CodeTooMany)
	_, err = track.ReadGPXSamples(context.Background(), []byte(`<gpx version="1.1"><trk><trkseg>`), track.Limits{})
	wantCode(t, err, track.CodeMalformed)
}
