package api

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"html/template"
	"sync"

	"github.com/getkin/kin-openapi/openapi3"
)

//go:embed pages/style.css
var pageStyle string

//go:embed pages/docs.html
var docsTemplate string

//go:embed pages/problem.html
var problemTemplate string

// pages are the rendered pages for people, made once at the start.
type pages struct {
	docs     []byte
	problems map[string][]byte
	// policy is the Content-Security-Policy that lets nothing through but the
	// pages' own style.
	policy string
}

// loadPages renders the pages the first time that it is called: they are the same for every
// handler, and nothing changes them.
var loadPages = sync.OnceValues(func() (pages, error) {
	doc, err := loadContract()
	if err != nil {
		return pages{}, err
	}
	return renderPages(doc)
})

// renderPages makes the reference from the contract and a page for each problem.
func renderPages(doc *openapi3.T) (pages, error) {
	digest := sha256.Sum256([]byte(pageStyle))
	p := pages{
		problems: map[string][]byte{},
		policy: "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(digest[:]) +
			"'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
	}
	var err error
	if p.docs, err = render("docs", docsTemplate, referenceOf(doc)); err != nil {
		return p, err
	}
	for _, kind := range problemKinds() {
		page := struct {
			Style               template.CSS
			Type, Title         string
			Explanation, Remedy template.HTML
			Status              int
		}{template.CSS(pageStyle), kind.typeURI(), kind.title, inline(kind.explanation), inline(kind.remedy), kind.status}
		if p.problems[kind.name], err = render("problem", problemTemplate, page); err != nil {
			return p, err
		}
	}
	return p, nil
}

// render fills a template.
func render(name, text string, data any) ([]byte, error) {
	t, err := template.New(name).Parse(text)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = t.Execute(&b, data)
	return b.Bytes(), err
}
