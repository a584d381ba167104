// Package parcours holds the project's contract, so that the service can serve the
// very file that its types and routes are generated from.
package parcours

import _ "embed"

// Contract is openapi.yaml, the one source of the HTTP surface.
//
//go:embed openapi.yaml
var Contract []byte
