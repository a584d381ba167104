package engine

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"

	"parcours.example/analysis/recording"
	"parcours.example/analysis/track"
)

// format is a kind of route file.
type format struct {
	// name is what people call it.
	name string
	// mediaTypes are the types that senders name it by, its own first.
	mediaTypes []string
	// recognise reports whether a file's bytes look like it.
	recognise func(content []byte) bool
	// points estimates, quickly and roughly, how many points a file holds.
	points func(content []byte) int
	read   func(ctx context.Context, content []byte, opt track.Options) (*track.Track, error)
	// recording reads a recording of a ride; nil where the format holds none.
	recording func(ctx context.Context, content []byte, limits track.Limits) (*recording.Recording, error)
}

// formats are the formats that can be read. A further one is a further row.
var formats = []format{
	{
		name:       "GPX",
		mediaTypes: []string{"application/gpx+xml"},
		recognise:  func(content []byte) bool { return rootElement(content) == "gpx" },
		points:     func(content []byte) int { return bytes.Count(content, []byte("lat=")) },
		read:       track.ReadGPX,
		recording:  recording.ReadGPX,
	},
	{
		name:       "GeoJSON",
		mediaTypes: []string{"application/geo+json", "application/json"},
		recognise:  isJSONObject,
		points:     func(content []byte) int { return bytes.Count(content, []byte("[")) },
		read:       track.ReadGeoJSON,
	},
	{
		name: "KML",
		mediaTypes: []string{
			"application/vnd.google-earth.kml+xml", "application/kml+xml", "application/vnd.google-earth.kmz",
		},
		recognise: func(content []byte) bool { return rootElement(content) == "kml" || isZippedKML(content) },
		points:    kmlPoints,
		read:      track.ReadKML,
	},
	{
		name:       "FIT",
		mediaTypes: []string{"application/fit", "application/vnd.ant.fit"},
		recognise:  isFIT,
		points:     func(content []byte) int { return len(content) / fitRecordBytes },
		read:       track.ReadFIT,
		recording:  recording.ReadFIT,
	},
	{
		name:       "TCX",
		mediaTypes: []string{"application/tcx+xml"},
		recognise:  func(content []byte) bool { return rootElement(content) == "TrainingCenterDatabase" },
		points:     func(content []byte) int { return bytes.Count(content, []byte("Trackpoint>")) / 2 },
		read:       track.ReadTCX,
		recording:  recording.ReadTCX,
	},
	{
		name:       "a table",
		mediaTypes: []string{"text/csv", "text/tab-separated-values"},
		recognise:  isTable,
		points: func(content []byte) int {
			return bytes.Count(content, []byte("\n")) + bytes.Count(content, []byte("\r"))
		},
		read: track.ReadTable,
	},
}

// generalTypes are the media types that name no format, or a family of them: the
// bytes decide.
var generalTypes = []string{
	"", "application/octet-stream", "application/x-www-form-urlencoded", "text/plain",
	"application/xml", "text/xml", "application/gzip", "application/x-gzip", "application/zip",
	"application/vnd.ms-excel", // what browsers name tables on machines with that program
}

// FileTypes returns the media types under which a route file is taken: those that
// name a format and those that leave it to the bytes. Among the latter is "", for
// no media type at all.
func FileTypes() (named, general []string) {
	for _, f := range formats {
		named = append(named, f.mediaTypes...)
	}
	return named, slices.Clone(generalTypes)
}

// names lists the formats for people.
func names() string {
	var all []string
	for _, f := range formats {
		all = append(all, f.name)
	}
	last := len(all) - 1
	return strings.Join(all[:last], ", ") + " or " + all[last]
}

// recognised returns the format that a file's bytes look like.
func recognised(content []byte) (f format, ok bool) {
	i := slices.IndexFunc(formats, func(f format) bool { return f.recognise(content) })
	if i < 0 {
		return format{}, false
	}
	return formats[i], true
}

// formatOf returns the format of a file's unpacked bytes: the one that its media
// type names, or the one that they look like where it names none. It refuses bytes
// that look like another one than the named.
func formatOf(mediaType string, content []byte) (format, error) {
	named, general, err := formatNamed(mediaType)
	if err != nil {
		return format{}, err
	}
	if len(content) == 0 {
		return format{}, notTheFormat("The file is empty; send a course as %s.", names())
	}
	looksLike, known := recognised(content)
	switch {
	case general && !known:
		return format{}, notTheFormat("The bytes are of no format that is read here; send %s.", names())
	case general:
		return looksLike, nil
	case known && looksLike.name != named.name:
		return format{}, notTheFormat("The file was sent as %s but looks like %s; name it %s, or leave its media type out.",
			named.name, looksLike.name, looksLike.mediaTypes[0])
	}
	return named, nil
}

// formatNamed returns the format that a media type names; general is true for one
// that leaves it to the bytes.
func formatNamed(mediaType string) (f format, general bool, err error) {
	name, _, _ := strings.Cut(strings.ToLower(mediaType), ";")
	name = strings.TrimSpace(name)
	if slices.Contains(generalTypes, name) {
		return format{}, true, nil
	}
	i := slices.IndexFunc(formats, func(f format) bool { return slices.Contains(f.mediaTypes, name) })
	if i < 0 {
		named, _ := FileTypes()
		return format{}, false, &Error{
			Code:   CodeUnsupportedMediaType,
			Detail: "Files of this media type are not read here; send one of " + strings.Join(named, ", ") + ", or leave it out.",
		}
	}
	return formats[i], false, nil
}

func notTheFormat(detail string, a ...any) error {
	return &track.Error{Code: track.CodeNotTheFormat, Detail: fmt.Sprintf(detail, a...)}
}
