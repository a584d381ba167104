// Package keys knows who may call: clients, the keys that they send, and the quotas that they
// have. It knows nothing of HTTP.
package keys

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"fmt"
	"strings"

	"parcours.example/service/quota"
)

// Client is someone who may call. All of a client's keys share its quotas.
type Client struct {
	// Name is what the file calls the client.
	Name   string
	Limits quota.Limits
}

// keyPrefix lets people, and programs that look for secrets in what is published, tell a key
// from other texts.
const keyPrefix = "parcours_"

// mostKeyBytes is above the length of any key; longer texts aren't even digested.
const mostKeyBytes = 128

// New returns a fresh key: keyPrefix and 26 random characters of 5 bits each.
func New() string { return keyPrefix + rand.Text() }

// digest is all that is kept of a key. SHA-256 without salt and without stretching is right
// here, as it isn't for passwords: a key is drawn at random from 2¹³⁰, so there is no list of
// likely ones whose digests could be tried or prepared, and the best way from a digest to a
// key is to guess.
type digest = [sha256.Size]byte

// digestOf returns the digest of a key.
func digestOf(key string) digest { return sha256.Sum256([]byte(key)) }

// Ring holds the keys of a file. It doesn't change.
type Ring struct {
	digests []digest
	clients []Client // of each digest
}

// Client returns whose key a text is. It takes the same time for every text of a length, with
// all keys compared to their ends, and so tells nothing of how near a wrong one comes.
func (r *Ring) Client(key string) (Client, bool) {
	if len(key) > mostKeyBytes {
		return Client{}, false
	}
	sent, found := digestOf(key), -1
	for i := range r.digests {
		found = subtle.ConstantTimeSelect(subtle.ConstantTimeCompare(sent[:], r.digests[i][:]), i, found)
	}
	if found < 0 {
		return Client{}, false
	}
	return r.clients[found], true
}

// Keys is the number of keys, Clients that of the clients who hold them.
func (r *Ring) Keys() int { return len(r.digests) }

// Clients is the number of clients.
func (r *Ring) Clients() int {
	names := map[string]bool{}
	for _, c := range r.clients {
		names[c.Name] = true
	}
	return len(names)
}

// Line is the line of a file for a client's key, without a line break.
func Line(c Client, key string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s=%s %s=%x", fieldClient, c.Name, fieldDigest, digestOf(key))
	for _, l := range []struct {
		field string
		units int64
	}{{fieldPerMinute, c.Limits.PerMinute}, {fieldPerDay, c.Limits.PerDay}} {
		if l.units > 0 {
			fmt.Fprintf(&b, " %s=%d", l.field, l.units)
		}
	}
	return b.String()
}
