package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"parcours.example/service/keys"
	"parcours.example/service/quota"
)

// A key that is made opens what its line says, and is said once, apart from it.
func TestNewKey(t *testing.T) {
	var line, key strings.Builder
	args := []string{"keys", "new", "--client=league-bot", "--per-minute=600", "--per-day=20000"}
	if code := run(args, strings.NewReader(""), &line, &key); code != exitDone {
		t.Fatalf("exit code %d: %s", code, key.String())
	}
	ring, err := keys.Parse(line.String())
	if err != nil {
		t.Fatal(err)
	}
	client, known := ring.Client(strings.TrimSpace(key.String()))
	if want := (keys.Client{Name: "league-bot", Limits: quota.Limits{PerMinute: 600, PerDay: 20000}}); !known || client != want {
		t.Errorf("%+v, %v", client, known)
	}
	if strings.Contains(line.String(), strings.TrimSpace(key.String())) {
		t.Errorf("the line holds the key: %s", line.String())
	}
	for _, wrong := range [][]string{{}, {"--client=Ada L"}, {"--client=a", "--per-minute=9"}, {"--client=a", "--per-day=-1"}, {"--client=a", "--per-day=x"}} {
		if code := run(append([]string{"keys", "new"}, wrong...), strings.NewReader(""), &line, &key); code != exitUsage {
			t.Errorf("%v: exit code %d", wrong, code)
		}
	}
}

// All that is wrong with who may call is named at once, with all else.
func TestFaultsOfTheGate(t *testing.T) {
	file := filepath.Join(t.TempDir(), "keys")
	if err := os.WriteFile(file, []byte("client=a\n# more\nsha256=0\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	c := parse(t, "--keys-file="+file, "--cors-origins=https://a.example,*", "--trusted-proxies=10.0.0.0/8,proxy", "--rate-per-address=9")
	_, err := c.check()
	if err == nil {
		t.Fatal("it is taken")
	}
	for _, want := range []string{
		"--keys-file (PARCOURS_KEYS_FILE)", "line 1: sha256 is missing", "line 3: client is missing", "--cors-origins (PARCOURS_CORS_ORIGINS)",
		"--trusted-proxies (PARCOURS_TRUSTED_PROXIES)", "--rate-per-address (PARCOURS_RATE_PER_ADDRESS)",
	} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q isn't named in\n%v", want, err)
		}
	}
}

func TestSettingsOfTheGate(t *testing.T) {
	file := filepath.Join(t.TempDir(), "keys")
	if err := os.WriteFile(file, []byte(keys.Line(keys.Client{Name: "a"}, keys.New())), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		good bool
	}{
		{[]string{"--keys-file=" + file}, true},
		{[]string{"--keys-file=" + file, "--cors-origins=https://a.example,http://localhost:3000"}, true},
		{[]string{"--rate-per-address=60", "--trusted-proxies=10.0.0.0/8,::1,fd00::/8"}, true},
		{[]string{"--keys-file=" + file, "--rate-per-address=60"}, false},
		{[]string{"--trusted-proxies=10.0.0.0/8"}, false},
		{[]string{"--rate-per-address=60", "--trusted-proxies=10.0.0.0/8,"}, false},
		{[]string{"--rate-per-address=many"}, false},
		{[]string{"--cors-origins=a.example"}, false},
		{[]string{"--cors-origins=https://a.example/"}, false},
		{[]string{"--cors-origins=https://a.example:443"}, false},
		{[]string{"--cors-origins=https://*.example"}, false},
		{[]string{"--cors-origins=null"}, false},
		{[]string{"--cors-origins=https://A.example"}, false},
		{[]string{"--cors-origins=http://[::1]:8080"}, true},
		{[]string{"--cors-origins=https://a.example, https://b.example"}, false},
		{[]string{"--keys-file=" + file + ".none"}, false},
	} {
		command := parse(t, c.args...)
		if _, err := command.check(); (err == nil) != c.good {
			t.Errorf("%v: %v", c.args, err)
		}
	}
}
