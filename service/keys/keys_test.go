package keys

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/service/quota"
)

func TestNewKeysAreRandom(t *testing.T) {
	seen := map[string]bool{}
	for range 1000 {
		key := New()
		// 26 characters of 32 are 130 bits.
		if !regexp.MustCompile(`^parcours_[A-Z2-7]{26}$`).MatchString(key) || seen[key] {
			t.Fatalf("key %q", key)
		}
		seen[key] = true
	}
}

// A line that is written is read back, and its key, and nothing near it, is its client's.
func TestLineIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		units := rapid.OneOf(rapid.Just(int64(0)), rapid.Int64Range(quota.MostCost, quota.MostUnits))
		want := Client{rapid.StringMatching(`[a-z0-9][a-z0-9._-]{0,63}`).Draw(t, "name"), quota.Limits{PerMinute: units.Draw(t, "minute"), PerDay: units.Draw(t, "day")}}
		key, other := New(), New()
		ring, err := Parse("# keys\n\n" + Line(Client{Name: "other"}, other) + "\r\n  " + Line(want, key))
		if err != nil {
			t.Fatal(err)
		}
		if got, known := ring.Client(key); !known || got != want {
			t.Fatalf("%+v, %v; want %+v", got, known, want)
		}
		if got, known := ring.Client(other); !known || got.Name != "other" {
			t.Fatalf("%+v, %v", got, known)
		}
		for _, wrong := range []string{"", key[1:], key[:len(key)-1], key + " ", " " + key, strings.ToLower(key), key + key, strings.Repeat(key, 40000), Line(want, key)} {
			if _, known := ring.Client(wrong); known {
				t.Fatalf("%.80q is no key", wrong)
			}
		}
	})
}

func TestSeveralKeysOfAClient(t *testing.T) {
	c := Client{"bot", quota.Limits{PerMinute: 60}}
	old, fresh := New(), New()
	ring, err := Parse(Line(c, old) + "\n" + Line(c, fresh))
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{old, fresh} {
		if got, known := ring.Client(key); !known || got != c {
			t.Errorf("%+v, %v", got, known)
		}
	}
	if ring.Keys() != 2 || ring.Clients() != 1 {
		t.Errorf("%d keys of %d clients", ring.Keys(), ring.Clients())
	}
}

func TestAllFaultsAreNamed(t *testing.T) {
	digest := strings.Repeat("0a", 32)
	for _, c := range []struct {
		text   string
		faults []string
	}{
		{"", []string{"there is no key in it"}},
		{"# nothing\n\n", []string{"there is no key in it"}},
		{"client=a sha256=" + digest + "\nclient=b sha256=" + digest, []string{"line 2: the same key stands on line 1"}},
		{"client=a sha256=" + digest + " per_day=50\n\nclient=a sha256=" + strings.Repeat("0b", 32), []string{"line 3: the client a has other quotas than on line 1"}},
		{"client=a", []string{"line 1: sha256 is missing"}},
		{"sha256=" + digest, []string{"line 1: client is missing"}},
		{"client=Ä sha256=12 per_minute=9 per_day=1e3 client=b colour=red", []string{
			"line 1: client: a client's name has", "line 1: sha256: it has 2 characters and not 64", "line 1: per_minute: it isn't a whole number from 10 to",
			"line 1: per_day: it isn't", "line 1: client stands twice", "line 1: a field is none of client=",
		}},
		{"client=a sha256=" + strings.Repeat("0g", 32), []string{"line 1: sha256: it isn't hexadecimal"}},
		{"client=a sha256=" + digest + " per_minute=0", []string{"line 1: per_minute"}},
		{"client=a sha256=" + digest + " per_day=1000000001", []string{"line 1: per_day"}},
		{"client=", []string{"line 1: client:", "line 1: sha256 is missing"}},
		{strings.Repeat("x\n", 40), []string{"line 1:", "line 10:", "and "}},
	} {
		_, err := Parse(c.text)
		if err == nil {
			t.Errorf("%q is taken", c.text)
			continue
		}
		for _, fault := range c.faults {
			if !strings.Contains(err.Error(), fault) {
				t.Errorf("%.100q: %q isn't named in\n%v", c.text, fault, err)
			}
		}
	}
}

func TestTooManyKeys(t *testing.T) {
	var b strings.Builder
	for i := range mostKeys + 1 {
		fmt.Fprintln(&b, Line(Client{Name: fmt.Sprint("c", i)}, New()))
		if _, err := Parse(b.String()); i%100 == 99 && (err == nil) != (i < mostKeys) {
			t.Fatalf("%d keys: %v", i+1, err)
		}
	}
	if _, err := Parse(b.String()); err == nil || !strings.Contains(err.Error(), "1001 keys") {
		t.Errorf("%v", err)
	}
}

// FuzzParse holds that a file which is taken says the same when it is written anew, and that a
// fault repeats nothing that could be a key.
func FuzzParse(f *testing.F) {
	f.Add(Line(Client{"bot", quota.Limits{PerMinute: 600, PerDay: 20000}}, "k") + "\n# more\n" + Line(Client{Name: "page"}, "l"))
	f.Add("client=a sha256=parcours_AAAABBBBCCCCDDDDEEEEFFFFGG\nclient=a client=a =\x00 per_day=99999999999999999999\r\n")
	f.Fuzz(func(t *testing.T, text string) {
		ring, err := Parse(text)
		if err != nil {
			if strings.Contains(err.Error(), keyPrefix) {
				t.Errorf("the fault repeats a key: %v", err)
			}
			return
		}
		var b strings.Builder
		for i, c := range ring.clients {
			line := Line(c, "")
			fmt.Fprintf(&b, "%s\n", strings.Replace(line, fmt.Sprintf("%x", digestOf("")), fmt.Sprintf("%x", ring.digests[i]), 1))
		}
		again, err := Parse(b.String())
		if err != nil || fmt.Sprint(*again) != fmt.Sprint(*ring) {
			t.Errorf("%v: written anew it is another", err)
		}
	})
}
