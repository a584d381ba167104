package track

import (
	"slices"
	"strings"
	"unicode"
)

// role is what a column is.
type role int

const (
	noRole role = iota
	latitudeColumn
	longitudeColumn
	distanceColumn
	elevationColumn
	gradientColumn
	nameColumn
	kindColumn
	roles int = iota
)

// numberColumns are the roles whose cells are numbers.
var numberColumns = []role{latitudeColumn, longitudeColumn, distanceColumn, elevationColumn, gradientColumn}

// column is a column of a role.
type column struct {
	// index is the 0-based one of the column's cells, valid if present.
	index   int
	present bool
	title   string
	// unit is what a number of the column is multiplied by to have metres or percent;
	// 0 where neither header nor cells say.
	unit float64
}

// roleOfWord returns what a word of a header, without case and accents, stands for.
func roleOfWord(w string) role {
	switch w {
	case "lat", "latitude", "breite", "breitengrad", "latitud", "latitudine":
		return latitudeColumn
	case "lon", "lng", "long", "longitude", "lange", "laenge", "langengrad", "laengengrad", "longitud", "longitudine":
		return longitudeColumn
	case "distance", "dist", "distances", "distanz", "strecke", "streckenlange", "entfernung", "wegstrecke", "kilometrage", "distanza", "distancia",
		"progressiva", "chainage", "kilometrierung", "stationierung", "pk":
		return distanceColumn
	case "elevation", "ele", "elev", "alt", "altitude", "height", "hohe", "hoehe", "hauteur", "altitud", "altura", "elevacion", "elevazione",
		"altitudine", "altezza", "quota", "cota":
		return elevationColumn
	case "gradient", "slope", "grade", "steigung", "neigung", "gefalle", "pente", "declivite", "pendenza", "pendiente", "inclinacion", "inclinazione":
		return gradientColumn
	case "name", "place", "label", "title", "landmark", "mark", "point", "waypoint", "note", "notes", "remark", "remarks", "comment", "description",
		"ort", "bezeichnung", "marke", "punkt", "wegpunkt", "bemerkung", "bemerkungen", "beschreibung", "nom", "lieu", "repere", "remarque",
		"remarques", "commentaire", "nombre", "lugar", "punto", "nota", "observaciones", "descripcion", "nome", "luogo", "descrizione":
		return nameColumn
	case "kind", "type", "category", "art", "typ", "kategorie", "categorie", "tipo", "categoria":
		return kindColumn
	}
	return noRole
}

// otherThings are words that make another thing of a column whose name has them:
// "elevation gain", "distance to go", "max. gradient".
var otherThings = []string{
	"gain", "loss", "ascent", "descent", "diff", "difference", "delta", "go", "remaining", "left", "rest", "restante", "restant", "segment",
	"interval", "step", "speed", "time", "max", "min", "avg", "mean", "average", "aufstieg", "abstieg", "gewinn", "verlust", "differenz",
	"unterschied", "denivele", "dislivello", "desnivel",
}

// unitOf returns the metres of a unit of length, 0 for another word.
func unitOf(w string) float64 {
	switch w {
	case "m", "meter", "meters", "metre", "metres", "metri", "metro", "metros":
		return 1
	case "km", "kms", "kilometer", "kilometers", "kilometre", "kilometres", "chilometri", "kilometro", "kilometros":
		return 1000
	case "mi", "mile", "miles", "meile", "meilen", "milles", "miglia", "millas":
		return 1609.344
	case "ft", "feet", "foot", "fuss", "pieds", "piedi", "pies":
		return 0.3048
	case "yd", "yds", "yard", "yards":
		return 0.9144
	}
	return 0
}

// headerCell returns what a cell of a header says.
func headerCell(cell string) (role, column) {
	c := column{title: clean(cell, 40)}
	ws := words(spaceCamels(cell))
	if slices.ContainsFunc(ws, func(w string) bool { return slices.Contains(otherThings, w) }) {
		return noRole, c
	}
	r := noRole
	for _, w := range ws {
		if r == noRole {
			r = roleOfWord(w)
		}
		if c.unit == 0 {
			c.unit = unitOf(w)
		}
	}
	if (r == nameColumn || r == kindColumn) && len(ws) > 1 {
		r = noRole // "link type", "name of the file"
	}
	if r == noRole {
		r = roleOfLoneWord(strings.ToLower(strings.TrimSpace(cell)))
	}
	if r == noRole && isHeightAboveSea(strings.Join(ws, "")) {
		r, c.unit = elevationColumn, 1
	}
	if r == gradientColumn {
		c.unit = gradientUnit(cell, ws)
	}
	return r, c
}

// roleOfLoneWord returns what a word stands for that is all of a cell: a unit of length
// of the course, or an axis of a map.
func roleOfLoneWord(w string) role {
	switch w {
	case "x":
		return longitudeColumn
	case "y":
		return latitudeColumn
	case "z":
		return elevationColumn
	}
	if unitOf(w) > 0 && len(w) > 1 {
		return distanceColumn
	}
	return noRole
}

// isHeightAboveSea tells the letters of units like "m ü. M.", which are all of a cell.
func isHeightAboveSea(letters string) bool {
	switch letters {
	case "mum", "munn", "munhn", "mnn", "mnhn", "masl", "mamsl", "amsl", "msnm", "mslm":
		return true
	}
	return false
}

// gradientUnit returns 1 for percent, 100 for metres per metre, 0 where a header's cell
// doesn't say.
func gradientUnit(cell string, ws []string) float64 {
	for _, w := range ws {
		switch w {
		case "pct", "percent", "prozent", "perc":
			return 1
		case "ratio":
			return 100
		}
	}
	if strings.Contains(cell, "%") {
		return 1
	}
	return 0
}

// spaceCamels puts a space between a small letter and a capital after it.
func spaceCamels(s string) string {
	var b strings.Builder
	small := false
	for _, r := range s {
		if small && unicode.IsUpper(r) {
			b.WriteByte(' ')
		}
		small = unicode.IsLower(r)
		b.WriteRune(r)
	}
	return b.String()
}

// header is what a line says if it is one.
type header struct {
	columns [roles]column
	// repeated are titles of columns that say what one before them says.
	repeated []string
	// known counts the columns, of cells cells.
	known, cells int
}

// headerOf reads a record as a header.
func headerOf(cells [][]byte) header {
	h := header{cells: len(cells)}
	for i, cell := range cells {
		r, c := headerCell(string(cell))
		if r == noRole {
			continue
		}
		if h.columns[r].present {
			h.repeated = append(h.repeated, c.title)
			continue
		}
		c.index, c.present = i, true
		h.columns[r] = c
		h.known++
	}
	// The German word for longitude is the one for length.
	lon := &h.columns[longitudeColumn]
	length := slices.Contains(words(lon.title), "lange") || slices.Contains(words(lon.title), "laenge")
	if length && !h.has(latitudeColumn) && !h.has(distanceColumn) {
		h.columns[distanceColumn] = *lon
		*lon = column{}
	}
	return h
}

func (h *header) has(r role) bool { return h.columns[r].present }

// betterThan compares what two separators make of a line.
func (h *header) betterThan(other header) bool {
	switch {
	case h.usable() != other.usable():
		return h.usable()
	case h.known != other.known:
		return h.known > other.known
	}
	return h.known > 0 && h.cells > other.cells
}

// usable says whether a line can be made of the columns.
func (h *header) usable() bool {
	return h.has(latitudeColumn) && h.has(longitudeColumn) ||
		h.has(distanceColumn) && (h.has(elevationColumn) || h.has(gradientColumn))
}
