package track_test

import (
	"bytes"
	"context"
	"encoding/xml"
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/muktihari/fit/decoder"

	"parcours.example/analysis/track"
)

// TestReadDeviceBombs reads files made of a million small things that a reader might
// make large ones of, and counts what it allocates meanwhile.
func TestReadDeviceBombs(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	const million = 1_000_000
	empty := func(message uint16) []byte { // messages of one byte
		w := new(fitWriter)
		w.define(0, message, nil, 0)
		w.data = append(w.data, make([]byte, million+1)...)
		return w.file()
	}
	definitions := new(fitWriter)
	for range million {
		definitions.define(5, fitRecord, nil, 0)
	}
	descriptions := new(fitWriter) // of developer fields, and messages full of these
	descriptions.define(0, 206, []fitField{{0, 1, 2}, {1, 1, 2}}, 0)
	for range million {
		descriptions.message(0, int64(0), int64(1))
	}
	names := new(fitWriter)
	names.define(0, fitCourse, []fitField{{5, 255, fitString}}, 0)
	for range million / 100 {
		names.message(0, strings.Repeat("n", 255))
	}
	for name, c := range map[string]struct {
		read func(context.Context, []byte, track.Options) (*track.Track, error)
		in   []byte
		code string
		most uint64 // bytes allocated in all, MB
	}{
		"empty records":       {track.ReadFIT, empty(fitRecord), track.CodeTooMany, 260},
		"empty course points": {track.ReadFIT, empty(fitPlace), track.CodeTooMany, 10},
		"definitions":         {track.ReadFIT, definitions.file(), track.CodeNoLine, 10},
		"descriptions":        {track.ReadFIT, descriptions.file(), track.CodeNoLine, 10},
		"names":               {track.ReadFIT, names.file(), track.CodeNoLine, 20},
		"headers":             {track.ReadFIT, bytes.Repeat(fitLine(0).file(), million/10), track.CodeTooMany, 20},
		"empty points":        {track.ReadTCX, []byte(tcxTrack(strings.Repeat("<Trackpoint/>", million+1))), track.CodeTooMany, 460},
		"bare places":         {track.ReadTCX, []byte(tcxCourse(strings.Repeat("<CoursePoint/>", million))), track.CodeTooMany, 20},
		"courses":             {track.ReadTCX, []byte(tcxHead + strings.Repeat("<Course/>", million)), track.CodeTooMany, 20},
		"segments":            {track.ReadTCX, []byte(tcxCourse(strings.Repeat("<Track/>", million))), track.CodeTooMany, 20},
		"a name of 10 MB":     {track.ReadTCX, []byte(tcxCourse("<Name>" + strings.Repeat("a", 10*million) + "</Name>")), track.CodeNoLine, 45},
	} {
		t.Run(name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, err := c.read(context.Background(), c.in, track.Options{})
			runtime.ReadMemStats(&after)
			wantCode(t, err, c.code)
			if mb := (after.TotalAlloc - before.TotalAlloc) >> 20; mb > c.most {
				t.Errorf("%d MB allocated, at most %d expected", mb, c.most)
			} else {
				t.Logf("%d MB allocated for a file of %d MB", mb, len(c.in)>>20)
			}
		})
	}
}

// TestReadFITBrokenOffAnywhere cuts a file at every byte: nothing but the whole
// file, and one without a part of its checksum, is read.
func TestReadFITBrokenOffAnywhere(t *testing.T) {
	whole := fitLine(3).file()
	for n := range whole {
		_, err := track.ReadFIT(context.Background(), whole[:n], track.Options{})
		if complete := n >= len(whole)-2; complete != (err == nil) {
			t.Errorf("%d of %d bytes: %v", n, len(whole), err)
		}
	}
}

// BenchmarkReadFIT tells how long reading takes against the library's full decoder
// on the same file.
func BenchmarkReadFIT(b *testing.B) {
	w := new(fitWriter)
	w.define(0, fitRecord, recordFields, 0)
	for i := range 100_000 {
		w.message(0, semicircles(45+float64(i%50_000)*1e-5), semicircles(7), altitude(200), centimetres(float64(i)))
	}
	data := w.file()
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	var ours, full time.Duration
	for b.Loop() {
		start := time.Now()
		if _, err := track.ReadFIT(context.Background(), data, track.Options{}); err != nil {
			b.Fatal(err)
		}
		ours += time.Since(start)
		b.StopTimer()
		start = time.Now()
		if _, err := decoder.New(bytes.NewReader(data)).Decode(); err != nil {
			b.Fatal(err)
		}
		full += time.Since(start)
		b.StartTimer()
	}
	b.ReportMetric(ours.Seconds()/full.Seconds(), "x-full-decoder")
}

// BenchmarkReadTCX tells how long reading 10,000 points as devices write them takes
// against the bare scan of the tokens.
func BenchmarkReadTCX(b *testing.B) {
	var points strings.Builder
	for i := range 10_000 {
		fmt.Fprintf(&points, "\n<Trackpoint><Time>2024-05-04T10:00:00Z</Time><Position><LatitudeDegrees>%.7f</LatitudeDegrees><LongitudeDegrees>7.1</LongitudeDegrees></Position>"+
			"<AltitudeMeters>%d</AltitudeMeters><DistanceMeters>%d</DistanceMeters><Extensions><x:Power>200</x:Power></Extensions></Trackpoint>", 45+float64(i)*1e-5, i%100, i)
	}
	data := []byte(tcxTrack(points.String()))
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	var ours, bare time.Duration
	for b.Loop() {
		start := time.Now()
		if _, err := track.ReadTCX(context.Background(), data, track.Options{}); err != nil {
			b.Fatal(err)
		}
		ours += time.Since(start)
		b.StopTimer()
		start = time.Now()
		for dec := xml.NewDecoder(bytes.NewReader(data)); ; {
			if _, err := dec.Token(); err != nil {
				break
			}
		}
		bare += time.Since(start)
		b.StartTimer()
	}
	b.ReportMetric(ours.Seconds()/bare.Seconds(), "x-token-scan")
}
