package brief

import (
	"regexp"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/text"
	"pgregory.net/rapid"
)

func TestName(t *testing.T) {
	for _, c := range []struct{ desc, in, want string }{
		{"plain", "Tarn Hill", "Tarn Hill"},
		{"letters of any script", "Étang d’Œuf 北山", "Étang d’Œuf 北山"},
		{"line breaks", "one\r\ntwo\tthree\u2028four", "one two three four"},
		{"mention of all", "@here go", "(at) here go"},
		{"mention by number", "<@&123>", "((at) &123)"},
		{"channel", "<#99>", "(no. 99)"},
		{"numbered", "Round #3", "Round no. 3"},
		{"heading", "## Big", "Big"},
		{"link", "[here](https://evil.example/x)", "(here)(https: evil. example/x)"},
		{"pictures", "ride :+1: 5:100:5", "ride : +1: 5: 100: 5"},
		{"commands", "go /kick all and 10 km/h", "go kick all and 10 km/h"},
		{"wide stop", "evil。example", "evil。 example"},
		{"right to left", "שלום עולם", "שלום עולם\u200e"},
		{"bare address", "www.evil.example", "www. evil. example"},
		{"mail", "a@b.example", "a(at) b. example"},
		{"emphasis", "**bold** _it_ ~~gone~~", "bold it gone"},
		{"code", "`rm`", "'rm'"},
		{"tag", "<script>", "(script)"},
		{"entity", "&amp;", "amp,"},
		{"entity that our own text would close", "a &nbsp", "a & nbsp"},
		{"list", "- item", "item"},
		{"command", "/kick all", "kick all"},
		{"decimal", "5.5 km at 12:30", "5.5 km at 12:30"},
		{"direction marks", "a\u202Eb\u200Bc", "abc"},
		{"table", "a | b", "a b"},
		{"nothing left", "***", ""},
		{"pattern", "{}{}", "()()"},
	} {
		if got := name(c.in).text; got != c.want {
			t.Errorf("%s: name(%q) = %q, want %q", c.desc, c.in, got, c.want)
		}
	}
}

func TestNameIsShort(t *testing.T) {
	long := strings.Repeat("Überlang ", 40)
	got := name(long).text
	if n := utf8.RuneCountInString(got); n > maxName || !strings.HasSuffix(got, "Überlang…") {
		t.Errorf("name of %d code points: %q", n, got)
	}
	if got := name(strings.Repeat("x", 200)).text; utf8.RuneCountInString(got) != maxName {
		t.Errorf("one long word: %q", got)
	}
}

// nasty draws names from what Markdown, HTML and chats react to.
func nasty() *rapid.Generator[string] {
	return rapid.OneOf(
		rapid.String(),
		rapid.Map(rapid.SliceOf(rapid.SampledFrom([]string{
			"*", "_", "`", "~~", "[", "](", ")", "<", ">", "#", "-", "+", "1. ", "\n", "\n\n", "    ", "|", "\\", "&", "amp;",
			"&#64;", "@here", "<@1>", "http://", "www.", "a.b", ".com", "!", "{", "}", "=", "---", "x", "É", "\u202e", "\u200b", "\u2066", "``` ", "\n```\n", "~~~\n", "$", "<!--", "-->", ":x:", ":+1:", ":100:", "\x00",
			"\r\n", "\r\n- ", "\n1. ", "1) ", "\n===\n", "\n---\n", "| a | b |\n|---|---|\n", "&nbsp", "&copy;", "<b>", "</li>", "<https://x.example>",
			"https://x.example/y", "mailto:a@b.example", "x.example", "www.x.example", "a@b.example", "@everyone", "<@&2>", "<#3>", "#channel", "<!here>",
			"/kick ", "﹫here", "x．example", "שלום", "مرحبا", "5", "é", "12:30:40", "![i](j)", "[r]: /u \"t\"\n",
		})),
			func(parts []string) string { return strings.Join(parts, "") }))
}

// TestNamesStayText parses whole briefs with nasty names and finds the structure
// unchanged: no link, image, code, HTML or emphasis but our own, with the
// extensions that chats use switched on.
func TestNamesStayText(t *testing.T) {
	want := structure(t, named("Plain", "Plain"))
	rapid.Check(t, func(t *rapid.T) {
		in := named(nasty().Draw(t, "course"), nasty().Draw(t, "name"))
		if got := structure(t, in); got != want {
			t.Errorf("structure\n%s\nwant\n%s\nof\n%s", got, want, Write(in).Markdown)
		}
	})
}

// reacted is what chats turn into links, mentions, channels and pictures.
var reacted = regexp.MustCompile(`(?i)\w:/|\bwww\.\w|[@＠﹫]|<[!#:/a-z]|(^|\s)[#/]\w|:([a-z_+-][\w+-]*|[0-9]{3,}):|[a-z0-9-][.．。｡][a-z]`)

// TestNamesStartNothingInChats holds that nothing in plain text is reacted to.
func TestNamesStartNothingInChats(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := Write(named(nasty().Draw(t, "course"), nasty().Draw(t, "name"))).Text
		if at := reacted.FindStringIndex(text); at != nil {
			t.Errorf("%q in %q", text[at[0]:at[1]], text[max(at[0]-40, 0):min(at[1]+40, len(text))])
		}
	})
}

// named gives a course and everything on it names.
func named(title, all string) Input {
	in := hilltop()
	in.Course.Name = title
	for i := range in.Terrain.Climbs {
		in.Terrain.Climbs[i].Name = all
	}
	for i := range in.Terrain.Marks {
		in.Terrain.Marks[i].Name = all
	}
	for i := range in.Rides {
		in.Rides[i].Rider, in.Rides[i].Setup = all, all
	}
	return in
}

// structure lists the kinds of nodes of a brief in Markdown, text left out.
func structure(t interface{ Fatalf(string, ...any) }, in Input) string {
	source := []byte(Write(in).Markdown)
	var kinds strings.Builder
	root := goldmark.New(goldmark.WithExtensions(extension.GFM)).Parser().Parse(text.NewReader(source))
	err := ast.Walk(root, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if entering && n.Kind() != ast.KindText && n.Kind() != ast.KindString {
			kinds.WriteString(n.Kind().String() + " ")
		}
		return ast.WalkContinue, nil
	})
	if err != nil {
		t.Fatalf("walk: %v", err)
	}
	return kinds.String()
}

// FuzzName holds what a name may consist of, and that making harmless what is
// harmless changes nothing.
func FuzzName(f *testing.F) {
	for _, s := range []string{"Tarn Hill", "@here", "<@&1>", "[a](b)", "&#64;", "a\nb", "...", "1. x", "- - x", "#1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got := name(s).text
		if strings.ContainsAny(got, "@<>[]{}`*_~|\\^=$#;\r\n\t") || strings.Contains(got, "  ") || strings.TrimSpace(got) != got {
			t.Errorf("name(%q) = %q", s, got)
		}
		got = strings.TrimSuffix(got, leftToRightMark)
		if utf8.RuneCountInString(got) > maxName || !utf8.ValidString(got) {
			t.Errorf("name(%q) = %q", s, got)
		}
		for _, r := range got {
			if !unicode.IsPrint(r) {
				t.Errorf("name(%q) holds %U", s, r)
			}
		}
		if again := strings.TrimSuffix(name(got).text, leftToRightMark); again != got {
			t.Errorf("name(%q) = %q, again %q", s, got, again)
		}
	})
}

// fenced returns what the fenced blocks of a text in CommonMark hold.
func fenced(markdown string) []string {
	source := []byte(markdown)
	var blocks []string
	root := goldmark.New().Parser().Parse(text.NewReader(source))
	for n := root.FirstChild(); n != nil; n = n.NextSibling() {
		if n.Kind() == ast.KindFencedCodeBlock {
			blocks = append(blocks, string(n.Lines().Value(source)))
		}
	}
	return blocks
}
