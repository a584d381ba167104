package track

import (
	"fmt"
	"math"
)

// positionFault says in a sentence why a position of a format that gives the longitude
// first is none; empty for one in range.
func positionFault(lon, lat float64) string {
	const export = "correct or remove the point, and export the file on WGS 84 if its coordinates are metres."
	switch {
	case math.Abs(lat) > 90 && math.Abs(lat) <= 180 && math.Abs(lon) <= 90:
		return fmt.Sprintf("The latitude %g is beyond ±90 degrees; the order is longitude, latitude, it may be the other way round in this file.", lat)
	case !(math.Abs(lon) <= 180):
		return fmt.Sprintf("The longitude %g is beyond ±180 degrees; %s", lon, export)
	case !(math.Abs(lat) <= 90):
		return fmt.Sprintf("The latitude %g is beyond ±90 degrees; %s", lat, export)
	}
	return ""
}
