package deploy

import (
	"bytes"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// above is where deploy/ stands, seen from here.
const above = "../../../"

func read(t *testing.T, name string) string {
	t.Helper()
	content, err := os.ReadFile(above + name)
	if err != nil {
		t.Fatal(err)
	}
	return string(content)
}

// known returns the settings that the service takes from its environment.
func known(t *testing.T) map[string]bool {
	t.Helper()
	program := os.Getenv("PARCOURS_PROGRAM")
	if program == "" {
		t.Fatal("PARCOURS_PROGRAM names no program; run .ci/deploy")
	}
	help, err := exec.CommandContext(t.Context(), program, "serve", "--help").Output()
	if err != nil {
		t.Fatal(err)
	}
	names := map[string]bool{}
	for _, m := range regexp.MustCompile(`\$(PARCOURS_[A-Z_]+)`).FindAllSubmatch(bytes.ReplaceAll(help, []byte("\n"), nil), -1) {
		names[string(m[1])] = true
	}
	if !names["PARCOURS_LISTEN"] {
		t.Fatalf("no settings in:\n%s", help)
	}
	return names
}

// settings are the environment of a service, as one of the ways to run it sets it.
type settings map[string]string

// check holds settings against the service's own, the time for which it is let stop, and the
// memory that it may use.
func (s settings) check(t *testing.T, stop time.Duration, memory int64) {
	t.Helper()
	s.checkNames(t)
	if delay, grace := s.duration(t, "PARCOURS_STOP_DELAY"), s.duration(t, "PARCOURS_STOP_GRACE"); delay < 3*time.Second || grace <= 120*time.Second || stop <= delay+grace {
		t.Errorf("stops after %v + %v, and is let %v: the delay must be noticed, the grace outlast the longest answer, and both must fit", delay, grace, stop)
	}
	mib, found := strings.CutSuffix(s["GOMEMLIMIT"], "MiB")
	limit, err := strconv.ParseInt(mib, 10, 64)
	if share := float64(limit<<20) / float64(memory); !found || err != nil || share < 0.7 || share > 0.9 {
		t.Errorf("GOMEMLIMIT is %q of %d MiB, want 70 to 90 %%", s["GOMEMLIMIT"], memory>>20)
	}
}

// checkNames demands that the service knows each setting.
func (s settings) checkNames(t *testing.T) {
	t.Helper()
	names := known(t)
	for name := range s {
		if strings.HasPrefix(name, "PARCOURS_") && !names[name] {
			t.Errorf("the service has no setting %s", name)
		}
	}
}

func (s settings) duration(t *testing.T, name string) time.Duration {
	t.Helper()
	d, err := time.ParseDuration(s[name])
	if err != nil {
		t.Errorf("%s: %v", name, err)
	}
	return d
}

func TestUnit(t *testing.T) {
	s := settings{}
	for line := range strings.Lines(read(t, "deploy/systemd/parcours.env")) {
		name, value, found := strings.Cut(strings.TrimPrefix(strings.TrimSpace(line), "#"), "=")
		if found && !strings.Contains(name, " ") {
			s[name] = value
		}
	}
	unit := read(t, "deploy/systemd/parcours.service")
	number := func(pattern string) int64 {
		m := regexp.MustCompile(`(?m)^` + pattern + `$`).FindStringSubmatch(unit)
		if m == nil {
			t.Fatalf("the unit has no %s", pattern)
		}
		n, _ := strconv.ParseInt(m[1], 10, 64) // digits
		return n
	}
	s.check(t, time.Duration(number(`TimeoutStopSec=(\d+)`))*time.Second, number(`MemoryMax=(\d+)G`)<<30)
	for name, value := range s {
		if file, isCredential := strings.CutPrefix(value, "/run/credentials/parcours.service/"); isCredential && !strings.Contains(unit, "LoadCredential="+file+":") {
			t.Errorf("%s: the unit loads no credential %s", name, file)
		}
	}
}
