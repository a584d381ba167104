package track

import "strings"

// parseClock returns the seconds since 1970-01-01 UTC of a date and time by ISO 8601,
// "2024-05-04T10:00:00.5Z". One without a zone is taken for UTC.
func parseClock(text string) (unixS float64, ok bool) {
	const form = "0000-00-00T00:00:00"
	text = strings.TrimSpace(text)
	if len(text) < len(form) || len(text) > maxNumber || text[4] != '-' || text[7] != '-' ||
		text[10] != 'T' && text[10] != ' ' || text[13] != ':' || text[16] != ':' {
		return 0, false
	}
	var parts [6]int
	for i, at := range [6][2]int{{0, 4}, {5, 7}, {8, 10}, {11, 13}, {14, 16}, {17, 19}} {
		if parts[i], ok = digits(text[at[0]:at[1]]); !ok {
			return 0, false
		}
	}
	year, month, day, hour, minute, second := parts[0], parts[1], parts[2], parts[3], parts[4], parts[5]
	if month < 1 || month > 12 || day < 1 || day > 31 || hour > 24 || minute > 59 || second > 60 {
		return 0, false
	}
	fraction, zone := cutFraction(text[len(form):])
	east, ok := zoneMinutes(zone)
	whole := ((daysSince1970(year, month, day)*24+hour)*60+minute-east)*60 + second
	return float64(whole) + fraction, ok
}

// digits returns the number that digits alone write.
func digits(s string) (n int, ok bool) {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return 0, false
		}
		n = 10*n + int(s[i]-'0')
	}
	return n, s != ""
}

// cutFraction returns the fraction of a second that a text starts with, and the rest.
func cutFraction(s string) (fraction float64, rest string) {
	if s == "" || s[0] != '.' && s[0] != ',' {
		return 0, s
	}
	end := 1
	for end < len(s) && s[end] >= '0' && s[end] <= '9' {
		end++
	}
	fraction, _ = parseDecimal("0." + s[1:end])
	return fraction, s[end:]
}

// zoneMinutes returns how many minutes a zone is ahead of UTC.
func zoneMinutes(s string) (east int, ok bool) {
	if s == "" || s == "Z" || s == "z" {
		return 0, true
	}
	sign := 1
	switch s[0] {
	case '-':
		sign = -1
	case '+':
	default:
		return 0, false
	}
	hour, minute := s[1:], "00"
	if len(hour) > 2 {
		hour, minute = hour[:2], strings.TrimPrefix(hour[2:], ":")
	}
	h, ok1 := digits(hour)
	m, ok2 := digits(minute)
	return sign * (60*h + m), ok1 && ok2 && len(minute) == 2 && h <= 14 && m <= 59
}

// daysSince1970 returns the days from 1970-01-01 to a date of the Gregorian calendar,
// which repeats every 400 years; years are counted from March, so that the leap day is
// their last.
func daysSince1970(year, month, day int) int {
	if month <= 2 {
		year, month = year-1, month+12
	}
	const before = 719468 // from 0000-03-01 to 1970-01-01
	return 365*year + year/4 - year/100 + year/400 + (153*(month-3)+2)/5 + day - 1 - before
}
