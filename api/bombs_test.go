package api_test

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"encoding/base64"
	"encoding/binary"
	"hash/crc32"
	"io"
	"net/http"
	"net/http/httptest"
	"runtime"
	"syscall"
	"testing"
	"time"

	measured "parcours.example/internal/figures"
	"parcours.example/service/engine"
)

// endless yields a head once and a piece for ever.
type endless struct {
	rest, piece []byte
	read        int
}

func newEndless(head, piece []byte) *endless {
	return &endless{rest: bytes.Clone(head), piece: bytes.Repeat(piece, 1+(64<<10)/len(piece))}
}

// Read implements io.Reader.
func (e *endless) Read(p []byte) (int, error) {
	if len(e.rest) == 0 {
		e.rest = e.piece
	}
	n := copy(p, e.rest)
	e.rest = e.rest[n:]
	e.read += n
	return n, nil
}

// gzipHeader begins a member of gzip (RFC 1952).
var gzipHeader = []byte{0x1f, 0x8b, 8, 0, 0, 0, 0, 0, 0, 255}

// zeros is a block of deflate, not the last one, of a mebibyte of zeros, aligned to bytes.
func zeros(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	w, err := flate.NewWriter(&b, flate.BestCompression)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Write(make([]byte, 1<<20)); err != nil {
		t.Fatal(err)
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// zstdFrame begins a frame of zstd with a window of so many KiB, a power of two (RFC 8878, 3.1.1).
func zstdFrame(windowLog int) []byte {
	return []byte{0x28, 0xb5, 0x2f, 0xfd, 0, byte((windowLog - 10) << 3)}
}

// zstdBlock is a block of zstd that repeats a byte 128 Ki times, in four bytes.
func zstdBlock(last bool) []byte {
	header := uint32(128<<10)<<3 | 1<<1
	if last {
		header |= 1
	}
	return append(binary.LittleEndian.AppendUint32(nil, header)[:3], 0)
}

// gzipMember is a whole member of gzip around deflated data.
func gzipMember(deflated, plain []byte) []byte {
	b := append(bytes.Clone(gzipHeader), deflated...)
	b = binary.LittleEndian.AppendUint32(b, crc32.ChecksumIEEE(plain))
	return binary.LittleEndian.AppendUint32(b, uint32(len(plain)))
}

// archive is a zip of so many files of a name, each with the content.
func archive(t testing.TB, files int, name string, content []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for range files {
		f, err := w.Create(name)
		if err == nil {
			_, err = f.Write(content)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// bomb is a body that is small and comes to much.
type bomb struct {
	name, coding, target, contentType string
	body                              io.Reader
	status                            int
}

// bombs are all of them; each is for one use.
func bombs(t testing.TB) []bomb {
	t.Helper()
	tenMB := func(head, piece []byte) io.Reader { return io.LimitReader(newEndless(head, piece), 10_000_000) }
	million := gzipMember(append(zeros(t), 3, 0), make([]byte, 1<<20)) // with an empty last block
	frame := append(zstdFrame(23), zstdBlock(true)...)
	file := bytes.Repeat(million, 64)
	inJSON := []byte(`{"course": {"file": {"encoding": "base64", "content": "` + base64.StdEncoding.EncodeToString(file) + `"}}}`)
	noName := append(bytes.Clone(gzipHeader[:3]), 8, 0, 0, 0, 0, 0, 255)
	const large, malformed = http.StatusRequestEntityTooLarge, http.StatusBadRequest
	return []bomb{
		{"gzip, 10 MB for 10 GB", "gzip", "", "", tenMB(gzipHeader, zeros(t)), large},
		{"gzip, endless", "gzip", "", "", newEndless(gzipHeader, zeros(t)), large},
		{"gzip, members without end", "gzip", "", "", newEndless(nil, million), large},
		{"gzip, empty members", "gzip", "", "", newEndless(nil, gzipMember([]byte{3, 0}, nil)), large},
		{"gzip, empty stored blocks", "gzip", "", "", newEndless(gzipHeader, []byte{0, 0, 0, 255, 255}), large},
		{"gzip, a name without end", "gzip", "", "", newEndless(noName, []byte("x")), malformed},
		{"gzip in gzip", "gzip, gzip", "", "", newEndless(nil, gzipped(million)), large},
		{"gzip in gzip, packed well", "gzip, gzip", "", "", bytes.NewReader(gzipped(bytes.Repeat(million, 512))), large},
		{"gzip in zstd", "gzip, zstd", "", "", bytes.NewReader(zstded(bytes.Repeat(million, 64))), large},
		{"gzip, three times", "gzip, gzip, gzip", "", "", bytes.NewReader(file), http.StatusUnsupportedMediaType},
		{"zstd, 10 MB for 300 GB", "zstd", "", "", tenMB(zstdFrame(23), zstdBlock(false)), large},
		{"zstd, endless", "zstd", "", "", newEndless(zstdFrame(23), zstdBlock(false)), large},
		{"zstd, frames without end", "zstd", "", "", newEndless(nil, frame), large},
		{"zstd, empty frames", "zstd", "", "", newEndless(nil, append(zstdFrame(10), 1, 0, 0)), large},
		{"zstd, frames to be skipped", "zstd", "", "", newEndless(nil, []byte{0x50, 0x2a, 0x4d, 0x18, 0, 0, 0, 0}), large},
		{"zstd, a frame of 4 GB to be skipped", "zstd", "", "", newEndless([]byte{0x50, 0x2a, 0x4d, 0x18, 255, 255, 255, 255}, []byte{0}), malformed},
		{"zstd, a window beyond the limit", "zstd", "", "", newEndless(zstdFrame(24), zstdBlock(false)), large},
		{"zstd, a window of 2 TB", "zstd", "", "", newEndless(zstdFrame(41), zstdBlock(false)), large},
		{"zstd, 10 GB by its own word", "zstd", "", "", newEndless(binary.LittleEndian.AppendUint64([]byte{0x28, 0xb5, 0x2f, 0xfd, 0xe0}, 10<<30), zstdBlock(false)), large},
		{"a .gz file", "", "", "", bytes.NewReader(file), large},
		{"a .gz file, empty members", "", "", "", io.LimitReader(newEndless(nil, gzipMember([]byte{3, 0}, nil)), 30_000_000), large},
		{"a .gz file in gzip", "gzip", "", "", bytes.NewReader(gzipped(file)), large},
		{"a .gz file in zstd, packed well", "zstd", "", "", bytes.NewReader(zstded(bytes.Repeat(million, 512))), large},
		{"a .gz file in JSON", "", "/v1/briefs", "application/json", bytes.NewReader(inJSON), large},
		{"a .gz file in JSON in gzip", "gzip", "/v1/briefs", "application/json", bytes.NewReader(gzipped(inJSON)), large},
		{"a .kmz file", "", "", "", bytes.NewReader(archive(t, 1, "doc.kml", make([]byte, 16<<20))), http.StatusUnprocessableEntity},
		{"a .kmz file of many files", "", "", "", bytes.NewReader(archive(t, 30_000, "x", nil)), malformed},
		{"a .kmz file of many empty .kml files", "", "", "", bytes.NewReader(archive(t, 30_000, "x.kml", nil)), http.StatusUnprocessableEntity},
	}
}

// cost is what something took.
type cost struct {
	cpu       time.Duration
	allocated uint64
}

// costOf runs something by itself.
func costOf(t testing.TB, do func()) cost {
	t.Helper()
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	from := processorTime(t)
	do()
	spent := processorTime(t) - from
	runtime.ReadMemStats(&after)
	return cost{spent, after.TotalAlloc - before.TotalAlloc}
}

// processorTime is what this process has taken of all processors.
func processorTime(t testing.TB) time.Duration {
	t.Helper()
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		t.Fatal(err)
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

// TestT07Bombs sends bodies that are small and unpack to much, take long to unpack to nothing,
// or say of themselves that they are large. All are refused, after little more than may come of
// them was unpacked: the memory that they make the service take shows it.
func TestT07Bombs(t *testing.T) {
	h := newHarness(t, engine.Config{})
	var worst, slowest bomb
	var most, longest cost
	all := bombs(t)
	for _, b := range all {
		target := b.target
		if target == "" {
			target = "/v1/courses"
		}
		r := httptest.NewRequest(http.MethodPost, target, b.body)
		r.Header.Set("Content-Type", b.contentType)
		r.Header.Set("Content-Encoding", b.coding)
		var w *httptest.ResponseRecorder
		took := costOf(t, func() { w = h.serve(r) })
		t.Logf("%-40s %d %6.1f ms %6.1f MiB", b.name, w.Code, took.cpu.Seconds()*1000, float64(took.allocated)/(1<<20))
		if w.Code != b.status {
			t.Errorf("%s: status %d: %.300s", b.name, w.Code, w.Body)
		}
		h.check(t, r, w)
		if took.allocated > most.allocated {
			worst, most = b, took
		}
		if took.cpu > longest.cpu {
			slowest, longest = b, took
		}
	}
	measured.Report(t, "T7", "%d bombs, all refused; at most %.0f ms of a processor (%s), at most %.0f MiB allocated in all (%s)",
		len(all), longest.cpu.Seconds()*1000, slowest.name, float64(most.allocated)/(1<<20), worst.name)
}
