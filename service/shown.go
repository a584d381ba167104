package main

import (
	"net/url"
	"reflect"
	"strings"
	"unicode"
)

// shown lists the settings of a command by their flags, without the secrets in them.
func shown(command any) map[string]string {
	all := map[string]string{}
	v := reflect.Indirect(reflect.ValueOf(command))
	for _, field := range reflect.VisibleFields(v.Type()) {
		if field.Anonymous {
			continue
		}
		name := field.Tag.Get("name")
		if name == "" {
			name = flagName(field.Name)
		}
		all[name] = withoutSecrets(v.FieldByIndex(field.Index).String())
	}
	return all
}

// flagName is the flag of a field: StopDelay's is stop-delay.
func flagName(field string) string {
	var b strings.Builder
	for i, r := range field {
		if unicode.IsUpper(r) && i > 0 {
			b.WriteByte('-')
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

// withoutSecrets leaves user and password out of URLs apart by commas.
func withoutSecrets(text string) string {
	if !strings.Contains(text, "://") {
		return text
	}
	parts := strings.Split(text, ",")
	for i, part := range parts {
		u, err := url.Parse(part)
		if err != nil {
			parts[i] = "…"
			continue
		}
		u.User = nil
		parts[i] = u.String()
	}
	return strings.Join(parts, ",")
}
