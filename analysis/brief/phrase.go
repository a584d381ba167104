package brief

import "strings"

// phrase is a piece of text in both renderings with the numbers in it.
type phrase struct {
	markdown, text string
	facts          []Fact
}

// words are our own, free of anything that Markdown would read.
func words(s string) phrase { return phrase{markdown: s, text: s} }

// empty reports whether a phrase says nothing.
func (p phrase) empty() bool { return p.text == "" }

// say fills the {} of a pattern of our own words with phrases, in order.
func say(pattern string, fill ...phrase) phrase {
	var markdown, text strings.Builder
	var facts []Fact
	for i, piece := range strings.Split(pattern, "{}") {
		if i > 0 {
			p := fill[i-1]
			markdown.WriteString(p.markdown)
			text.WriteString(p.text)
			facts = append(facts, p.facts...)
		}
		markdown.WriteString(piece)
		text.WriteString(piece)
	}
	return phrase{markdown.String(), text.String(), facts}
}

// join sets phrases one after another with a separator.
func join(separator string, phrases ...phrase) phrase {
	if len(phrases) == 0 {
		return phrase{}
	}
	return say("{}"+strings.Repeat(separator+"{}", len(phrases)-1), phrases...)
}

// list sets phrases as a person lists them: "a, b and c".
func list(phrases ...phrase) phrase {
	last := len(phrases) - 1
	if last < 1 {
		return join("", phrases...)
	}
	return say("{} and {}", join(", ", phrases[:last]...), phrases[last])
}

// strong sets a phrase off in Markdown.
func strong(p phrase) phrase {
	p.markdown = "**" + p.markdown + "**"
	return p
}

// capital raises the first letter of a phrase and of the fact that it opens with.
func capital(p phrase) phrase {
	if len(p.facts) > 0 && strings.HasPrefix(p.text, p.facts[0].Text) {
		p.facts = append([]Fact(nil), p.facts...)
		p.facts[0].Text = raise(p.facts[0].Text)
	}
	p.markdown, p.text = raise(p.markdown), raise(p.text)
	return p
}

func raise(s string) string {
	if s != "" && 'a' <= s[0] && s[0] <= 'z' {
		return strings.ToUpper(s[:1]) + s[1:]
	}
	return s
}
