package ridegen

import (
	"bytes"
	"fmt"
	"math"
	"time"

	"github.com/muktihari/fit/encoder"
	"github.com/muktihari/fit/profile/basetype"
	"github.com/muktihari/fit/profile/mesgdef"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/proto"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// FIT writes samples as a FIT file by the writer of github.com/muktihari/fit.
func FIT(samples []track.Sample) ([]byte, error) {
	id := mesgdef.NewFileId(nil).SetType(typedef.FileActivity)
	file := proto.FIT{Messages: []proto.Message{id.ToMesg(nil)}}
	for _, s := range samples {
		m := mesgdef.NewRecord(nil)
		m.SetTimestamp(time.Unix(int64(math.Round(s.ClockS)), 0).UTC())
		if s.Pos != (geodesy.Vec{}) {
			lat, lon := s.Pos.Degrees()
			m.SetPositionLat(int32(math.Round(lat * (1 << 31) / 180)))
			m.SetPositionLong(int32(math.Round(lon * (1 << 31) / 180)))
		}
		m.SetEnhancedAltitude(whole((s.ElevationM+500)*5, basetype.Uint32Invalid))
		m.SetDistance(whole(s.DistanceM*100, basetype.Uint32Invalid))
		m.SetEnhancedSpeed(whole(s.SpeedMPS*1000, basetype.Uint32Invalid))
		m.SetPower(uint16(whole(s.PowerW, uint32(basetype.Uint16Invalid))))
		m.SetCadence(uint8(whole(s.CadenceRPM, uint32(basetype.Uint8Invalid))))
		file.Messages = append(file.Messages, m.ToMesg(nil))
	}
	var b bytes.Buffer
	err := encoder.New(&b).Encode(&file)
	return b.Bytes(), err
}

// whole rounds a number that is not NaN, for which invalid stands.
func whole(v float64, invalid uint32) uint32 {
	if math.IsNaN(v) {
		return invalid
	}
	return uint32(math.Round(v))
}

// GPX writes samples as a GPX file of version 1.1, power and the like in extensions.
func GPX(samples []track.Sample) []byte {
	var b bytes.Buffer
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="urn:example:sensors">
<trk><trkseg>
`)
	for i, s := range samples {
		if i > 0 && s.Begins {
			b.WriteString("</trkseg><trkseg>\n")
		}
		lat, lon := s.Pos.Degrees()
		fmt.Fprintf(&b, "<trkpt lat=\"%.7f\" lon=\"%.7f\">", lat, lon)
		element(&b, "ele", "%.1f", s.ElevationM)
		clock(&b, "time", s.ClockS)
		b.WriteString("<extensions><x:sensors>")
		element(&b, "x:power", "%.0f", s.PowerW)
		element(&b, "x:cad", "%.0f", s.CadenceRPM)
		element(&b, "x:speed", "%.3f", s.SpeedMPS)
		element(&b, "x:distance", "%.2f", s.DistanceM)
		b.WriteString("</x:sensors></extensions></trkpt>\n")
	}
	b.WriteString("</trkseg></trk></gpx>\n")
	return b.Bytes()
}

// TCX writes samples as the one activity of a TCX file.
func TCX(samples []track.Sample) []byte {
	var b bytes.Buffer
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>
<TrainingCenterDatabase xmlns="urn:example:tcx"><Activities><Activity Sport="Biking"><Lap><DistanceMeters>1</DistanceMeters><Track>
`)
	for i, s := range samples {
		if i > 0 && s.Begins {
			b.WriteString("</Track></Lap><Lap><Track>\n")
		}
		b.WriteString("<Trackpoint>")
		clock(&b, "Time", s.ClockS)
		if s.Pos != (geodesy.Vec{}) {
			lat, lon := s.Pos.Degrees()
			fmt.Fprintf(&b, "<Position><LatitudeDegrees>%.7f</LatitudeDegrees><LongitudeDegrees>%.7f</LongitudeDegrees></Position>", lat, lon)
		}
		element(&b, "AltitudeMeters", "%.1f", s.ElevationM)
		element(&b, "DistanceMeters", "%.2f", s.DistanceM)
		element(&b, "Cadence", "%.0f", s.CadenceRPM)
		b.WriteString("<Extensions><TPX xmlns=\"urn:example:activity\">")
		element(&b, "Speed", "%.3f", s.SpeedMPS)
		element(&b, "Watts", "%.0f", s.PowerW)
		b.WriteString("</TPX></Extensions></Trackpoint>\n")
	}
	b.WriteString("</Track></Lap></Activity></Activities></TrainingCenterDatabase>\n")
	return b.Bytes()
}

// element writes an element with a number, none for NaN.
func element(b *bytes.Buffer, name, format string, v float64) {
	if !math.IsNaN(v) {
		fmt.Fprintf(b, "<%s>"+format+"</%s>", name, v, name)
	}
}

// clock writes an element with a time, none for NaN.
func clock(b *bytes.Buffer, name string, unixS float64) {
	if !math.IsNaN(unixS) {
		t := time.UnixMilli(int64(math.Round(unixS * 1000))).UTC()
		fmt.Fprintf(b, "<%s>%s</%s>", name, t.Format("2006-01-02T15:04:05.999Z"), name)
	}
}
