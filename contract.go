// Package parcours holds what the service serves as it stands in the project: the
// contract, which its types and routes are generated from, and the courses to try it with.
package parcours

import "embed"

// Contract is openapi.yaml, the one source of the HTTP surface.
//
//go:embed openapi.yaml
var Contract []byte

// Demos are the clean course files of the invented season, at testdata/season/NAME.gpx.
//
//go:embed testdata/season/quellmere-criterium.gpx testdata/season/hoskerrow-eight.gpx
//go:embed testdata/season/morvask-laps-and-climb.gpx testdata/season/brambleseth-time-trial.gpx
//go:embed testdata/season/ludwether-mountain-stage.gpx testdata/season/skarnholt-hill-climb.gpx
var Demos embed.FS
