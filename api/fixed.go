package api

import "sync"

// fixedTexts keeps what never changes, like the files of the page, in the codings in which it
// was sent: compressing it each time would cost more than all else of such a call. There are as
// many forms as texts and codings.
type fixedTexts struct{ forms sync.Map } // of bytes by entity tag

// in returns a text in a coding; the tag is that of both.
func (f *fixedTexts) in(coding, tag string, body []byte) ([]byte, error) {
	if form, ok := f.forms.Load(tag); ok {
		return form.([]byte), nil
	}
	form, err := compress(coding, body)
	if err == nil && coding != "" {
		f.forms.Store(tag, form)
	}
	return form, err
}
