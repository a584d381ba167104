package local

import "net/http"

// RoundTripperOf answers requests by a handler.
func RoundTripperOf(h http.Handler) http.RoundTripper { return &Service{handler: h} }
