package api

import (
	"strconv"
	"strings"
	"time"
)

// What callers may prefer (RFC 7240): to be answered later, and that an answer waits.
const (
	preferField      = "Prefer"
	appliedField     = "Preference-Applied"
	preferLater      = "respond-async"
	preferWait       = "wait"
	mostPreferences  = 32
	mostWaitForJob   = 20 * time.Second
	tokenPunctuation = "!#$%&'*+-.^_`|~"
)

// preferences reads the Prefer fields of a request (RFC 7240 §2): the value of each preference
// by its name in lower case, empty where it has none. Of one that is repeated the first counts.
// What can't be read, up to the next comma, is nobody's preference.
func preferences(fields []string) map[string]string {
	found := map[string]string{}
	for _, field := range fields {
		for rest := field; rest != "" && len(found) < mostPreferences; {
			name, value, after, ok := preference(rest)
			if _, repeated := found[name]; ok && !repeated {
				found[name] = value
			}
			rest = after
		}
	}
	return found
}

// preference reads the first preference of a list, with its parameters, which none that is known
// here has, and returns what comes after its comma.
func preference(list string) (name, value, after string, ok bool) {
	name, value, rest, ok := setting(list)
	for ok {
		rest = strings.TrimLeft(rest, " \t")
		if rest == "" || rest[0] == ',' {
			break
		}
		if ok = rest[0] == ';'; ok {
			if rest = strings.TrimLeft(rest[1:], " \t"); rest != "" && rest[0] != ';' && rest[0] != ',' {
				_, _, rest, ok = setting(rest)
			}
		}
	}
	return name, value, afterComma(rest), ok
}

// setting reads a token and perhaps “=” and a word.
func setting(text string) (name, value, rest string, ok bool) {
	name, rest = tokenOf(strings.TrimLeft(text, " \t"))
	if name == "" {
		return "", "", rest, false
	}
	name = strings.ToLower(name)
	spaced := strings.TrimLeft(rest, " \t")
	if !strings.HasPrefix(spaced, "=") {
		return name, "", rest, true
	}
	rest = strings.TrimLeft(spaced[1:], " \t")
	if strings.HasPrefix(rest, `"`) {
		value, rest, ok = quoted(rest)
		return name, value, rest, ok
	}
	value, rest = tokenOf(rest)
	return name, value, rest, true
}

// tokenOf reads a token (RFC 9110 §5.6.2), empty for none.
func tokenOf(text string) (found, rest string) {
	n := 0
	for n < len(text) && isTokenByte(text[n]) {
		n++
	}
	return text[:n], text[n:]
}

func isTokenByte(b byte) bool {
	return b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z' || b >= '0' && b <= '9' || strings.IndexByte(tokenPunctuation, b) >= 0
}

// quoted reads a quoted string (RFC 9110 §5.6.4); ok is false where it isn't closed.
func quoted(text string) (value, rest string, ok bool) {
	var b strings.Builder
	for i := 1; i < len(text); i++ {
		switch {
		case text[i] == '"':
			return b.String(), text[i+1:], true
		case text[i] == '\\' && i+1 < len(text):
			i++
		}
		b.WriteByte(text[i])
	}
	return "", "", false
}

// afterComma is what comes after the first comma that isn't in a quoted string.
func afterComma(text string) string {
	for text != "" {
		switch text[0] {
		case ',':
			return text[1:]
		case '"':
			if _, rest, ok := quoted(text); ok {
				text = rest
				continue
			}
		}
		text = text[1:]
	}
	return ""
}

// waitOf is how long a caller prefers to wait, in whole seconds and within bounds; 0 for not.
func waitOf(preferred map[string]string) time.Duration {
	s, err := strconv.ParseUint(preferred[preferWait], 10, 32)
	if err != nil {
		return 0
	}
	return min(time.Duration(s)*time.Second, mostWaitForJob)
}
