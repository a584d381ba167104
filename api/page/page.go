// Package page is what the page for people is made of: one document, one style and its modules,
// as they are served. Other pages of ours take from it what they look and write numbers like.
package page

import "embed"

// Files are the parts, by their names.
//
//go:embed *.html *.css *.js *.svg
var Files embed.FS
