package main

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"parcours.example/client/cmd/parcours-bot/journal"
	"parcours.example/internal/prosodytest"
	"parcours.example/internal/seeded"
	"parcours.example/internal/sharedlog"
)

// A bot that is killed at any moment and started again posts once.
func TestKilled(t *testing.T) {
	s := prosodytest.Start(t, true, "bot", "nour", "owner")
	s.MakeRoom("owner", "riders")
	nour := newMember(t, s, "nour", "Nour")
	seed := seeded.First(t)
	random := rand.New(rand.NewPCG(seed, 0))
	heard := map[string]int{}
	began := time.Now().UTC()
	for i := range seeded.Cases(100) {
		trial := newTrial(t, s, began.Add(-time.Duration(i+1)*time.Minute))
		trial.start()
		if random.IntN(5) > 0 { // about when it posts
			await(t, "message that is begun", func() bool { return strings.Contains(trial.journal(), `"begun"`) || trial.done() })
		}
		<-time.After(rand.N(60 * time.Millisecond))
		trial.end(syscall.SIGKILL)
		killedAt := trial.journal()
		trial.start()
		await(t, "post by a bot that runs", func() bool { return trial.runs() && trial.done() })
		trial.end(syscall.SIGTERM)
		for id := range trial.messages() {
			if heard[id] != 0 {
				t.Fatalf("%s of an earlier trial", id)
			}
		}
		for len(nour.heard) > 0 {
			heard[(<-nour.heard).ID]++
		}
		for id := range trial.messages() {
			if heard[id] != 1 {
				t.Errorf("trial %d: %s was posted %d times; killed at\n%s\nlog:\n%s", i, id, heard[id], killedAt, trial.log.String())
			}
		}
	}
}

// trial is a bot as a process of its own, with a post that is overdue.
type trial struct {
	t           *testing.T
	config, dir string
	cmd         *exec.Cmd
	log         sharedlog.Buffer
	starts      int
}

// newTrial configures a bot for which one post fell due at a moment.
func newTrial(t *testing.T, s *prosodytest.Server, due time.Time) *trial {
	t.Helper()
	tr := &trial{t: t, config: configured(t, s, "")}
	tr.dir = filepath.Join(filepath.Dir(tr.config), "state")
	text, err := os.ReadFile(tr.config)
	if err != nil {
		t.Fatal(err)
	}
	begin, _, _ := strings.Cut(string(text), "[[courses]]")
	file, _, _ := strings.Cut(string(text)[len(begin):], "name =")
	write(t, filepath.Dir(tr.config), "bot.toml", strings.ReplaceAll(begin, "Europe/Brussels", "UTC")+file+
		fmt.Sprintf("date = %s\n[[posts]]\nwhen = \"every day at %s\"\n", due.AddDate(0, 0, 2).Format(time.DateOnly), due.Format("15:04")))
	settings, faults := readSettings(tr.config)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	j, err := journal.Open(tr.dir)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if _, err := j.Since(nameOf("riders", settings.posts[0]), due.Add(-time.Hour)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { tr.end(syscall.SIGKILL) })
	return tr
}

func (tr *trial) start() {
	tr.t.Helper()
	tr.starts = strings.Count(tr.log.String(), runs)
	tr.cmd = exec.Command(os.Args[0], tr.config, "--local") //nolint:gosec,noctx // the tests' own program, ended by end
	tr.cmd.Env = append(os.Environ(), asBot+"=1")
	tr.cmd.Stderr = &tr.log
	if err := tr.cmd.Start(); err != nil {
		tr.t.Fatal(err)
	}
}

// runs is what the log says when the bot has started.
const runs = `"the bot runs"`

func (tr *trial) runs() bool { return strings.Count(tr.log.String(), runs) > tr.starts }

// end ends the process. One that is asked to end does so by itself, with exit code 0.
func (tr *trial) end(sig syscall.Signal) {
	if tr.cmd == nil {
		return
	}
	_ = tr.cmd.Process.Signal(sig) // one that is gone needs none
	if err := tr.cmd.Wait(); err != nil && sig == syscall.SIGTERM {
		tr.t.Errorf("ended with %v:\n%s", err, tr.log.String())
	}
	tr.cmd = nil
}

func (tr *trial) journal() string {
	text, err := os.ReadFile(filepath.Join(tr.dir, "journal.json"))
	if err != nil {
		tr.t.Fatal(err)
	}
	return string(text)
}

// messages are the states of the messages of the journal.
func (tr *trial) messages() map[string]struct{ State journal.State } {
	var kept struct {
		Messages map[string]struct{ State journal.State }
	}
	if err := json.Unmarshal([]byte(tr.journal()), &kept); err != nil {
		tr.t.Fatal(err)
	}
	return kept.Messages
}

// done reports whether brief and picture are posted for certain.
func (tr *trial) done() bool {
	posted := 0
	for _, m := range tr.messages() {
		if m.State == journal.Posted {
			posted++
		}
	}
	return posted == 2
}
