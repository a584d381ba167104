package track

// elements are those that a reader of XML knows around the current place.
type elements struct {
	// open are their local names, outermost first; skipped counts the elements open
	// inside the innermost of them that are left out.
	open    []string
	skipped int
}

// enter takes an opening tag and reports whether its element is known. Others, which
// the element around them doesn't pass on, are left out with all that is inside.
func (e *elements) enter(name string, passes func(parent, name string) bool) bool {
	if len(e.open) > 0 && (e.skipped > 0 || !passes(e.innermost(), name)) {
		e.skipped++
		return false
	}
	e.open = append(e.open, name)
	return true
}

// leave takes a closing tag, of which the decoder has checked that it is the right one,
// and returns the name of its element if that is known.
func (e *elements) leave() (name string, known bool) {
	if e.skipped > 0 {
		e.skipped--
		return "", false
	}
	name = e.innermost()
	e.open = e.open[:len(e.open)-1]
	return name, true
}

func (e *elements) innermost() string { return e.open[len(e.open)-1] }
