package track

import (
	"bytes"
	"encoding/binary"
	"math"

	"github.com/muktihari/fit/profile/basetype"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/profile/untyped/fieldnum"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/muktihari/fit/proto"
)

// fitField is one of the fields that are read.
type fitField int

// The fields that are read, of the messages that are, and the time that any may have.
const (
	fitTime fitField = iota
	fitRecordLat
	fitRecordLon
	fitRecordAltitude
	fitRecordEnhancedAltitude
	fitRecordDistance
	fitRecordSpeed
	fitRecordEnhancedSpeed
	fitRecordPower
	fitRecordCadence
	fitEvent
	fitEventType
	fitCourseName
	fitPlaceLat
	fitPlaceLon
	fitPlaceDistance
	fitPlaceType
	fitPlaceName
	fitFields // their number
)

// fitFieldOf returns the field that a number stands for in a message.
func fitFieldOf(message typedef.MesgNum, number byte) (f fitField, read bool) {
	if number == proto.FieldNumTimestamp {
		return fitTime, true
	}
	switch message {
	case mesgnum.Record:
		return fitRecordField(number)
	case mesgnum.Event:
		return fitEventField(number)
	case mesgnum.Course:
		return fitCourseName, number == fieldnum.CourseName
	case mesgnum.CoursePoint:
		return fitPlaceField(number)
	}
	return 0, false
}

func fitRecordField(number byte) (f fitField, read bool) {
	switch number {
	case fieldnum.RecordPositionLat:
		return fitRecordLat, true
	case fieldnum.RecordPositionLong:
		return fitRecordLon, true
	case fieldnum.RecordAltitude:
		return fitRecordAltitude, true
	case fieldnum.RecordEnhancedAltitude:
		return fitRecordEnhancedAltitude, true
	case fieldnum.RecordDistance:
		return fitRecordDistance, true
	case fieldnum.RecordSpeed:
		return fitRecordSpeed, true
	case fieldnum.RecordEnhancedSpeed:
		return fitRecordEnhancedSpeed, true
	case fieldnum.RecordPower:
		return fitRecordPower, true
	case fieldnum.RecordCadence:
		return fitRecordCadence, true
	}
	return 0, false
}

func fitEventField(number byte) (f fitField, read bool) {
	switch number {
	case fieldnum.EventEvent:
		return fitEvent, true
	case fieldnum.EventEventType:
		return fitEventType, true
	}
	return 0, false
}

func fitPlaceField(number byte) (f fitField, read bool) {
	switch number {
	case fieldnum.CoursePointPositionLat:
		return fitPlaceLat, true
	case fieldnum.CoursePointPositionLong:
		return fitPlaceLon, true
	case fieldnum.CoursePointDistance:
		return fitPlaceDistance, true
	case fieldnum.CoursePointType:
		return fitPlaceType, true
	case fieldnum.CoursePointName:
		return fitPlaceName, true
	}
	return 0, false
}

// fitLayout tells where in the messages of one definition the fields stand.
type fitLayout struct {
	message typedef.MesgNum
	order   binary.ByteOrder
	fields  [fitFields]fitSlot
}

// fitSlot is a field's place in a message; size 0 stands for a field that isn't
// there.
type fitSlot struct {
	start, size int
	base        basetype.BaseType
}

// newFITLayout reads a definition.
func newFITLayout(definition []byte) fitLayout {
	const head = 6 // header, reserved, byte order, message (2), number of fields
	l := fitLayout{order: binary.LittleEndian}
	if definition[2] != proto.LittleEndian {
		l.order = binary.BigEndian
	}
	l.message = typedef.MesgNum(l.order.Uint16(definition[3:]))
	start := 1 // after the message's header
	for i := range int(definition[5]) {
		field := definition[head+3*i:]
		size := int(field[1])
		if f, read := fitFieldOf(l.message, field[0]); read {
			l.fields[f] = fitSlot{start, size, basetype.BaseType(field[2])}
		}
		start += size
	}
	return l
}

// number returns the value of a field of whole numbers, NaN where the message
// doesn't have it, where it is marked as invalid, and where it is of another type.
// Of a list it is the first.
func (l *fitLayout) number(f fitField, message []byte) float64 {
	slot := l.fields[f]
	b := message[slot.start : slot.start+slot.size]
	switch base := slot.base; {
	case slot.size < int(base.Size()):
	case base == basetype.Enum, base == basetype.Uint8:
		return valid(uint64(b[0]), uint64(basetype.Uint8Invalid))
	case base == basetype.Sint8:
		return valid(int64(int8(b[0])), int64(basetype.Sint8Invalid))
	case base == basetype.Uint16:
		return valid(uint64(l.order.Uint16(b)), uint64(basetype.Uint16Invalid))
	case base == basetype.Sint16:
		return valid(int64(int16(l.order.Uint16(b))), int64(basetype.Sint16Invalid))
	case base == basetype.Uint32:
		return valid(uint64(l.order.Uint32(b)), uint64(basetype.Uint32Invalid))
	case base == basetype.Sint32:
		return valid(int64(int32(l.order.Uint32(b))), int64(basetype.Sint32Invalid))
	}
	return math.NaN()
}

// valid returns a whole number, NaN for the one that stands for none.
func valid[T int64 | uint64](v, invalid T) float64 {
	if v == invalid {
		return math.NaN()
	}
	return float64(v)
}

// text returns the value of a field of text, which ends at a zero byte.
func (l *fitLayout) text(f fitField, message []byte) string {
	slot := l.fields[f]
	if slot.base != basetype.String {
		return ""
	}
	text, _, _ := bytes.Cut(message[slot.start:slot.start+slot.size], []byte{0})
	return string(text)
}

// elevation returns the elevation of a record in metres, the finer of two where it has
// both, NaN where it has none.
func (l *fitLayout) elevation(record []byte) float64 {
	v := l.number(fitRecordEnhancedAltitude, record)
	if math.IsNaN(v) {
		v = l.number(fitRecordAltitude, record)
	}
	return v/5 - 500
}
