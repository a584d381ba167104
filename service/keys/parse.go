package keys

import (
	"encoding/hex"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"parcours.example/service/quota"
)

// The fields of a line.
const (
	fieldClient    = "client"
	fieldDigest    = "sha256"
	fieldPerMinute = "per_minute"
	fieldPerDay    = "per_day"
)

// Bounds of a file. All keys are compared with each that is sent: a thousand take some 20 µs.
const (
	mostKeys   = 1000
	mostFaults = 32
)

// clientName is what a client may be called. It isn't secret: it stands in the log.
var clientName = regexp.MustCompile(`^[a-z0-9][a-z0-9._-]{0,63}$`)

// CheckName reports what is wrong with a client's name.
func CheckName(name string) error {
	if !clientName.MatchString(name) {
		return errors.New("a client's name has 1 to 64 of a-z, 0-9, dot, hyphen and underscore, and starts with one of the first two kinds")
	}
	return nil
}

// CheckLimits reports what is wrong with quotas.
func CheckLimits(l quota.Limits) error {
	for _, units := range []int64{l.PerMinute, l.PerDay} {
		if units != 0 && (units < quota.MostCost || units > quota.MostUnits) {
			return fmt.Errorf("a quota is from %d units, which the dearest call costs, to %d", quota.MostCost, quota.MostUnits)
		}
	}
	return nil
}

// Parse reads a file of keys: one on each line, as fields apart by blanks. client and sha256
// are needed; per_minute and per_day are the client's quotas, without which it has none. Empty
// lines and those that start with # mean nothing.
//
//	client=league-bot sha256=9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08 per_minute=600 per_day=20000
//
// Several lines may name the same client, so that a new key works before the old one goes;
// their quotas must agree. The error names all that is wrong, with the numbers of the lines.
func Parse(text string) (*Ring, error) {
	p := parser{firstOf: map[string]int{}, digestAt: map[digest]int{}}
	number := 0
	for line := range strings.Lines(text) {
		number++
		if line = strings.TrimSpace(line); line != "" && line[0] != '#' {
			p.line(number, line)
		}
	}
	if len(p.ring.digests) == 0 && len(p.faults) == 0 {
		p.faults = append(p.faults, errors.New("there is no key in it: nobody could call; a service that is open to all has no file of keys"))
	}
	if len(p.ring.digests) > mostKeys {
		p.faults = append(p.faults, fmt.Errorf("there are %d keys in it, and %d are allowed", len(p.ring.digests), mostKeys))
	}
	if err := p.err(); err != nil {
		return nil, err
	}
	return &p.ring, nil
}

// parser gathers keys and faults.
type parser struct {
	ring     Ring
	faults   []error
	firstOf  map[string]int // the first line of a client, by name
	digestAt map[digest]int
}

// err joins the faults.
func (p *parser) err() error {
	if more := len(p.faults) - mostFaults; more > 0 {
		p.faults = append(p.faults[:mostFaults], fmt.Errorf("and %d more", more))
	}
	return errors.Join(p.faults...)
}

// line reads one line. Faults don't repeat what stands there: a key may have been written in
// the place of its digest.
func (p *parser) line(number int, line string) {
	fault := func(format string, args ...any) {
		p.faults = append(p.faults, fmt.Errorf("line %d: %w", number, fmt.Errorf(format, args...)))
	}
	read, faults := readLine(line)
	for _, f := range faults {
		fault("%w", f)
	}
	if len(faults) > 0 {
		return
	}
	if at, twice := p.digestAt[read.digest]; twice {
		fault("the same key stands on line %d", at)
		return
	}
	p.digestAt[read.digest] = number
	if first, known := p.firstOf[read.client.Name]; !known {
		p.firstOf[read.client.Name] = number
	} else if other := p.clientNamed(read.client.Name); other.Limits != read.client.Limits {
		fault("the client %s has other quotas than on line %d; all its keys share them", read.client.Name, first)
		return
	}
	p.ring.digests = append(p.ring.digests, read.digest)
	p.ring.clients = append(p.ring.clients, read.client)
}

func (p *parser) clientNamed(name string) Client {
	for _, c := range p.ring.clients {
		if c.Name == name {
			return c
		}
	}
	return Client{}
}

// entry is a line that was read.
type entry struct {
	client Client
	digest digest
}

// readLine reads the fields of a line.
func readLine(line string) (e entry, faults []error) {
	seen := map[string]bool{}
	for _, field := range strings.Fields(line) {
		name, value, _ := strings.Cut(field, "=")
		set, known := fieldReaders[name]
		switch {
		case !known:
			faults = append(faults, fmt.Errorf("a field is none of %s=, %s=, %s= and %s=", fieldClient, fieldDigest, fieldPerMinute, fieldPerDay))
		case seen[name]:
			faults = append(faults, fmt.Errorf("%s stands twice", name))
		default:
			if err := set(&e, value); err != nil {
				faults = append(faults, fmt.Errorf("%s: %w", name, err))
			}
		}
		seen[name] = true
	}
	for _, name := range []string{fieldClient, fieldDigest} {
		if !seen[name] {
			faults = append(faults, fmt.Errorf("%s is missing", name))
		}
	}
	return e, faults
}

// fieldReaders take the value of each field.
var fieldReaders = map[string]func(*entry, string) error{
	fieldClient:    func(e *entry, v string) error { e.client.Name = v; return CheckName(v) },
	fieldDigest:    func(e *entry, v string) error { return readDigest(&e.digest, v) },
	fieldPerMinute: func(e *entry, v string) error { return readUnits(&e.client.Limits.PerMinute, v) },
	fieldPerDay:    func(e *entry, v string) error { return readUnits(&e.client.Limits.PerDay, v) },
}

func readDigest(d *digest, text string) error {
	if len(text) != hex.EncodedLen(len(d)) {
		return fmt.Errorf("it has %d characters and not %d; it is the key's SHA-256 in hexadecimal", len(text), hex.EncodedLen(len(d)))
	}
	if _, err := hex.Decode(d[:], []byte(text)); err != nil {
		return errors.New("it isn't hexadecimal")
	}
	return nil
}

func readUnits(units *int64, text string) error {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < quota.MostCost || n > quota.MostUnits {
		return fmt.Errorf("it isn't a whole number from %d to %d", quota.MostCost, quota.MostUnits)
	}
	*units = n
	return nil
}
