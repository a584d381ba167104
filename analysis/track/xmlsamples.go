package track

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"math"
	"strings"

	"parcours.example/analysis/geodesy"
)

// ReadGPXSamples reads what a device recorded into a GPX file: the points of its tracks,
// all tracks after each other, with their times. Speed, power, cadence and distance are
// taken from the point or from its extensions, in any namespace, by the elements' local
// names. A file that breaks off is read up to there, with the flaw "file-breaks-off".
// What can't be read of a point is left out.
//
// Every error is an *Error, or the context's.
func ReadGPXSamples(ctx context.Context, data []byte, limits Limits) (*Samples, error) {
	return readXMLSamples(ctx, data, limits, xmlSampleFormat{
		name: "GPX", root: "gpx", point: "trkpt",
		around: map[string]string{"trk": "gpx", "trkseg": "trk"}, segment: "trkseg",
	})
}

// ReadTCXSamples is ReadGPXSamples for the activities of a TCX file.
func ReadTCXSamples(ctx context.Context, data []byte, limits Limits) (*Samples, error) {
	return readXMLSamples(ctx, data, limits, xmlSampleFormat{
		name: "TCX", root: tcxRoot, point: "Trackpoint",
		around: map[string]string{
			"Activities": tcxRoot, "MultiSportSession": "Activities", "FirstSport": "MultiSportSession",
			"NextSport": "MultiSportSession", "Activity": "", "Lap": "Activity", "Track": "",
		}, segment: "Track",
	})
}

// xmlSampleFormat tells where samples stand in a format.
type xmlSampleFormat struct {
	name, root string
	// point is the element of a sample, segment the one around it.
	point, segment string
	// around are the elements that lead to it, each with the one that it stands in,
	// empty for any of them.
	around map[string]string
}

// passes tells which elements are read inside which: those that lead to points, and all
// that is inside a point.
func (x *xmlSampleFormat) passes(parent, name string) bool {
	if _, leads := x.around[parent]; !leads && parent != x.root {
		return true
	}
	if name == x.point {
		return parent == x.segment
	}
	in, leads := x.around[name]
	return leads && (in == parent || in == "")
}

// xmlSamples takes the samples of an XML file.
type xmlSamples struct {
	*xmlTokens
	elements
	form  xmlSampleFormat
	notes notebook

	samples  []Sample
	point    Sample // being read
	lat, lon float64
	inPoint  bool
	begins   bool // the next sample does
	text     []byte
	done     bool
}

func readXMLSamples(ctx context.Context, data []byte, limits Limits, format xmlSampleFormat) (*Samples, error) {
	limits = limits.orDefault()
	text, guessed, err := decodeText(data)
	if err != nil {
		return nil, err
	}
	f := xmlSamples{xmlTokens: newXMLTokens(ctx, text, limits, format.name, format.root), form: format}
	if guessed {
		f.notes.addEncodingGuessed()
	}
	for !f.done {
		if err := f.step(); err != nil {
			if !f.endsAt(err) {
				return nil, err
			}
			f.notes.noteBrokenOff()
			return &Samples{Samples: f.samples, Flaws: f.notes.flaws()}, nil
		}
	}
	f.noteTrailing(&f.notes)
	return &Samples{Samples: f.samples, Flaws: f.notes.flaws()}, nil
}

// endsAt reports whether the file breaks off at an error, after samples that count.
func (f *xmlSamples) endsAt(err error) bool {
	var own *Error
	return errors.As(err, &own) && own.Code == CodeMalformed && len(f.samples) > 0
}

// step takes one token of the file.
func (f *xmlSamples) step() error {
	t, err := f.next()
	if err != nil {
		return err
	}
	switch t := t.(type) {
	case xml.StartElement:
		return f.start(t)
	case xml.EndElement:
		f.end()
	case xml.CharData:
		f.chars(t)
	}
	return nil
}

// start takes an opening tag.
func (f *xmlSamples) start(t xml.StartElement) error {
	if !f.enter(t.Name.Local, f.form.passes) {
		return nil
	}
	f.text = f.text[:0]
	switch t.Name.Local {
	case f.form.segment:
		f.begins = true
	case f.form.point:
		if f.inPoint {
			return nil
		}
		if len(f.samples) >= f.limits.Points {
			return f.tooMany("points", "thin them out, one a second is enough", f.limits.Points, len(f.samples)+1+f.rest(f.form.point))
		}
		f.inPoint, f.point, f.lat, f.lon = true, noSample(), math.NaN(), math.NaN()
		if lat, found := attribute(t, "lat"); found {
			f.lat = f.degrees(lat, 90)
		}
		if lon, found := attribute(t, "lon"); found {
			f.lon = f.degrees(lon, 180)
		}
	}
	return nil
}

// end takes a closing tag.
func (f *xmlSamples) end() {
	name, known := f.leave()
	if !known {
		return
	}
	switch {
	case len(f.open) == 0:
		f.done = true
	case name == f.form.point && f.inPoint && f.innermost() == f.form.segment:
		f.add()
	case f.inPoint && len(f.text) > 0:
		f.field(name, string(f.text))
		f.text = f.text[:0]
	}
}

// add adds the sample that was read.
func (f *xmlSamples) add() {
	if !math.IsNaN(f.lat) && !math.IsNaN(f.lon) {
		f.point.Pos = geodesy.FromDegrees(f.lat, f.lon)
	}
	f.point.Begins, f.begins, f.inPoint = f.begins, false, false
	f.samples = append(f.samples, f.point)
}

// field takes the text of an element of a point. Of what stands there twice the first
// counts.
func (f *xmlSamples) field(name, text string) {
	switch strings.ToLower(name) {
	case "time":
		f.clock(text)
	case "latitudedegrees":
		f.lat = f.degrees(text, 90)
	case "longitudedegrees":
		f.lon = f.degrees(text, 180)
	case "ele", "altitudemeters":
		v, code, detail := parseElevation(text)
		if code != "" {
			f.note(code, detail)
		}
		f.point.ElevationM = v
	case "distance", "distancemeters":
		f.number("distance", text, &f.point.DistanceM)
	case "speed":
		f.number("speed", text, &f.point.SpeedMPS)
	case "power", "watts", "powerinwatts":
		f.number("power", text, &f.point.PowerW)
	case "cadence", "cad":
		f.number("cadence", text, &f.point.CadenceRPM)
	}
}

// clock takes a time.
func (f *xmlSamples) clock(text string) {
	v, ok := parseClock(text)
	if !ok {
		f.note("time-unreadable", fmt.Sprintf("The time %q is none by ISO 8601 and was left out.", clean(text, 40)))
		return
	}
	if math.IsNaN(f.point.ClockS) {
		f.point.ClockS = v
	}
}

// number takes a measured number.
func (f *xmlSamples) number(what, text string, value *float64) {
	v, ok := parseDecimal(strings.TrimSpace(text))
	if !ok || math.IsInf(v, 0) {
		f.note(what+"-unreadable", fmt.Sprintf("The %s %q is not a number and was left out.", what, clean(text, 40)))
		return
	}
	if math.IsNaN(*value) {
		*value = v
	}
}

// degrees returns a latitude or a longitude, NaN for one that can't be read.
func (f *xmlSamples) degrees(text string, limit float64) float64 {
	v, fault := parseDegrees(text, limit)
	if fault != "" {
		f.note("position-unreadable", "A position was left out: "+fault)
		return math.NaN()
	}
	return v
}

// note warns about the sample that is being read.
func (f *xmlSamples) note(code, detail string) { f.notes.add(lineID{}, len(f.samples), code, detail) }

// chars takes text between tags.
func (f *xmlSamples) chars(text []byte) {
	if !f.inPoint || f.skipped > 0 {
		return
	}
	if len(f.text) == 0 {
		text = bytes.TrimLeft(text, " \t\r\n")
	}
	f.text = append(f.text, text[:min(len(text), maxField-len(f.text))]...)
}
