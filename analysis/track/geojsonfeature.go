package track

import (
	"fmt"
	"slices"
	"strings"
)

// feature reads a Feature and gives its geometries the name and the kind that its
// properties tell, before or after them.
func (g *geojson) feature() {
	lines, rings, marks := len(g.tracks), len(g.rings), len(g.marks)
	var told properties
	g.members("geometry", func(key string) {
		switch key {
		case "geometry":
			g.anyObject()
		case "properties":
			told = g.properties()
		default:
			g.skip()
		}
	})
	name := clean(told.name(), g.limits.NameRunes)
	for i := range g.tracks[lines:] {
		g.tracks[lines+i].setName(name)
	}
	for i := range g.rings[rings:] {
		g.rings[rings+i].setName(name)
	}
	for i := range g.marks[marks:] {
		m := &g.marks[marks+i]
		if name != "" {
			m.Name = name
		}
		m.Kind = told.kind()
	}
}

// properties are the properties of a feature that tell what it is.
type properties map[string]string

// nameKeys and kindKeys are the properties looked at, in lower case, the first one
// given counts. There is no standard for them: these are common practice.
var (
	nameKeys   = []string{"name", "title", "label", "description", "desc", "comment"}
	kindKeys   = []string{"kind", "type", "category", "class"}
	symbolKeys = []string{"symbol", "sym", "marker-symbol"}
)

// properties reads what tells of a feature's properties.
func (g *geojson) properties() properties {
	if g.peek() != '{' {
		g.skip()
		return nil
	}
	told := properties{}
	g.object(func(key string) {
		key = strings.ToLower(key)
		if !slices.Contains(nameKeys, key) && !slices.Contains(kindKeys, key) && !slices.Contains(symbolKeys, key) {
			g.skip()
			return
		}
		if text := strings.TrimSpace(g.scalar()); text != "" && told[key] == "" {
			told[key] = text
		}
	})
	return told
}

// first returns the first property given of some.
func (p properties) first(keys []string) string {
	for _, key := range keys {
		if p[key] != "" {
			return p[key]
		}
	}
	return ""
}

func (p properties) name() string { return p.first(nameKeys) }

// kind returns the kind of a place. What the file says that it is counts before its
// name, and the name before its symbol.
func (p properties) kind() MarkKind {
	return firstKind(p.first(kindKeys), p.name(), p.first(symbolKeys))
}

// system reads a member crs of GeoJSON before RFC 7946 (the specification of 2008,
// section 3). Positions were longitude, latitude then, too, whatever the system's
// own order of axes.
func (g *geojson) system() {
	if g.peek() != '{' {
		g.skip()
		return
	}
	name := ""
	g.object(func(key string) {
		if key != "properties" || g.peek() != '{' {
			g.skip()
			return
		}
		g.object(func(key string) {
			if text := g.scalar(); key == "name" || key == "href" {
				name = text
			}
		})
	})
	if !isWGS84(name) {
		g.fail(Error{Code: CodeOutOfRange, Detail: fmt.Sprintf(
			"The file's coordinates are of the system %q; export it with longitudes and latitudes on WGS 84, as GeoJSON demands.", clean(name, 80))})
	}
}

// isWGS84 tells whether a name stands for longitude and latitude on WGS 84, with or
// without height: OGC's CRS84 and CRS84h, EPSG's 4326 and 4979.
func isWGS84(name string) bool {
	name = strings.ToLower(strings.Join(strings.Fields(name), ""))
	code := name[strings.LastIndexAny(name, ":/#")+1:]
	switch code {
	case "crs84", "crs84h", "wgs84":
		return true
	case "4326", "4979":
		return strings.Contains(name, "epsg")
	}
	return false
}
