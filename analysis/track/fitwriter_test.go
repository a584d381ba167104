package track_test

import (
	"encoding/binary"
	"math"

	"github.com/muktihari/fit/kit/hash/crc16"
)

// The messages and base types that the tests write, by the numbers of the format's
// profile.
const (
	fitRecord, fitCourse, fitPlace = 20, 31, 32

	fitEnum, fitString                    = 0x00, 0x07
	fitSint32, fitUint16, fitUint32       = 0x85, 0x84, 0x86
	noSint32, noUint16, noUint32    int64 = 0x7FFFFFFF, 0xFFFF, 0xFFFFFFFF
)

// fitField is a field of a definition: its number, size and base type.
type fitField struct{ num, size, base byte }

// recordFields are the fields of a full record: latitude, longitude, enhanced
// altitude, distance.
var recordFields = []fitField{{0, 4, fitSint32}, {1, 4, fitSint32}, {78, 4, fitUint32}, {5, 4, fitUint32}}

// placeFields are those of a course point: latitude, longitude, distance, type,
// name of 16 bytes.
var placeFields = []fitField{{2, 4, fitSint32}, {3, 4, fitSint32}, {4, 4, fitUint32}, {5, 1, fitEnum}, {6, 16, fitString}}

// fitWriter writes the messages of a FIT file.
type fitWriter struct {
	big     bool
	data    []byte
	layouts [16][]fitField
}

// define writes a definition; developer adds that many bytes of developer fields.
func (w *fitWriter) define(local byte, message uint16, fields []fitField, developer byte) {
	w.layouts[local] = fields
	arch, head := byte(0), 0x40|local
	if w.big {
		arch = 1
	}
	if developer > 0 {
		head |= 0x20
	}
	w.data = append(w.data, head, 0, arch)
	w.data = w.order().AppendUint16(w.data, message)
	w.data = append(w.data, byte(len(fields)))
	for _, f := range fields {
		w.data = append(w.data, f.num, f.size, f.base)
	}
	if developer > 0 {
		w.data = append(w.data, 1, 0, developer, 0)
	}
}

func (w *fitWriter) order() binary.AppendByteOrder {
	if w.big {
		return binary.BigEndian
	}
	return binary.LittleEndian
}

// message writes a message; its values are int64 and string.
func (w *fitWriter) message(local byte, values ...any) {
	w.data = append(w.data, local)
	w.values(local, values...)
}

// compressed writes a message whose header holds a time.
func (w *fitWriter) compressed(local, seconds byte, values ...any) {
	w.data = append(w.data, 0x80|local<<5|seconds&0x1F)
	w.values(local, values...)
}

func (w *fitWriter) values(local byte, values ...any) {
	for i, f := range w.layouts[local] {
		switch v := values[i].(type) {
		case string:
			b := make([]byte, f.size)
			copy(b, v)
			w.data = append(w.data, b...)
		case int64:
			switch f.size {
			case 1:
				w.data = append(w.data, byte(v))
			case 2:
				w.data = w.order().AppendUint16(w.data, uint16(v))
			case 4:
				w.data = w.order().AppendUint32(w.data, uint32(v))
			}
		}
	}
}

// file returns the file with a header of 14 bytes and right checksums.
func (w *fitWriter) file() []byte {
	b := []byte{14, 0x20, 0, 0}
	b = binary.LittleEndian.AppendUint32(b, uint32(len(w.data)))
	b = append(b, ".FIT"...)
	b = binary.LittleEndian.AppendUint16(b, fitSum(b))
	b = append(b, w.data...)
	return binary.LittleEndian.AppendUint16(b, fitSum(w.data))
}

func fitSum(b []byte) uint16 {
	h := crc16.New()
	_, _ = h.Write(b)
	return h.Sum16()
}

// semicircles returns an angle as the format writes it.
func semicircles(deg float64) int64 { return int64(math.Round(deg * (1 << 31) / 180)) }

// altitude returns an elevation as the format writes it.
func altitude(m float64) int64 { return int64(math.Round((m + 500) * 5)) }

// centimetres returns a distance as the format writes it.
func centimetres(m float64) int64 { return int64(math.Round(m * 100)) }

// fitLine returns a writer with n records, 100 m apart on a meridian and climbing
// 4 m each.
func fitLine(n int) *fitWriter {
	w := new(fitWriter)
	w.define(0, fitRecord, recordFields, 0)
	for i := range n {
		w.message(0, semicircles(45+float64(i)*0.0009), semicircles(7), altitude(200+4*float64(i)), centimetres(100*float64(i)))
	}
	return w
}
