package track

import "strings"

// gpxNamespace is what the namespaces of all GPX versions start with.
const gpxNamespace = "http://www.topografix.com/GPX/"

// ours tells whether a namespace is that of the file's own elements; some writers
// leave it empty below the root.
func (f *filter) ours(space string) bool {
	return space == f.space || space == "" || strings.HasPrefix(space, gpxNamespace)
}

// passes tells which elements are read inside which.
func passes(parent, name string) bool {
	switch parent {
	case "gpx":
		return name == "metadata" || name == "name" || name == "wpt" || name == "rte" || name == "trk"
	case "metadata":
		return name == "name"
	case "trk":
		return name == "name" || name == "trkseg"
	case "rte":
		return name == "name" || name == "rtept"
	case "trkseg":
		return name == "trkpt"
	case "trkpt", "rtept":
		return isField(name)
	case "wpt":
		return isNote(name)
	}
	return false
}

// isField tells which elements have text that is read.
func isField(name string) bool { return name == "ele" || isNote(name) }

// isNote tells which elements of a point say what it is.
func isNote(name string) bool {
	return name == "name" || name == "desc" || name == "cmt" || name == "sym" || name == "type"
}
