package main

import (
	"cmp"
	"crypto/x509"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"
	"mellium.im/xmpp/jid"

	"parcours.example/api/contract"
	"parcours.example/client/cmd/parcours-bot/chat"
	"parcours.example/client/cmd/parcours-bot/hook"
	"parcours.example/client/cmd/parcours-bot/when"
)

// file is the configuration as it is written. Names of files are taken from where it lies.
type file struct {
	State    string         `toml:"state"`
	Zone     string         `toml:"zone"`
	Units    contract.Units `toml:"units"`
	MaxChars int            `toml:"max_chars"`
	Indoor   bool           `toml:"indoor"`
	// ShelteredDrag is the drag of who says to be sheltered, over drag alone.
	ShelteredDrag float64 `toml:"sheltered_drag"`

	Account  *fileAccount  `toml:"account"`
	Rooms    []fileRoom    `toml:"rooms"`
	Webhooks []fileWebhook `toml:"webhooks"`
	Courses  []fileCourse  `toml:"courses"`
	Posts    []filePost    `toml:"posts"`
	Rider    *fileRider    `toml:"rider"`
	Setup    *fileSetup    `toml:"setup"`
	Limits   *fileLimits   `toml:"limits"`
}

type fileAccount struct {
	JID             string   `toml:"jid"`
	PasswordFile    string   `toml:"password_file"`
	PasswordEnv     string   `toml:"password_env"`
	Nick            string   `toml:"nick"`
	Address         string   `toml:"address"`
	AuthoritiesFile string   `toml:"authorities_file"`
	AskedBy         []string `toml:"asked_by"`
}

type fileRoom struct {
	Name         string `toml:"name"`
	JID          string `toml:"jid"`
	PasswordFile string `toml:"password_file"`
	PasswordEnv  string `toml:"password_env"`
}

type fileWebhook struct {
	Name       string `toml:"name"`
	URL        string `toml:"url"`
	URLFile    string `toml:"url_file"`
	URLEnv     string `toml:"url_env"`
	SecretFile string `toml:"secret_file"`
	SecretEnv  string `toml:"secret_env"`
	Picture    string `toml:"picture"`
}

type fileCourse struct {
	File    string          `toml:"file"`
	Folder  string          `toml:"folder"`
	Name    string          `toml:"name"`
	Date    *toml.LocalDate `toml:"date"`
	Laps    *int            `toml:"laps"`
	LapLine *string         `toml:"lap_line"`
	Reverse *bool           `toml:"reverse"`
	StartM  *float64        `toml:"start_m"`
	EndM    *float64        `toml:"end_m"`
}

type filePost struct {
	To         []string `toml:"to"`
	When       string   `toml:"when"`
	Round      string   `toml:"round"`
	LateWithin string   `toml:"late_within"`
}

type fileRider struct {
	Name    *string  `toml:"name"`
	MassKg  float64  `toml:"mass_kg"`
	PowerW  float64  `toml:"power_w"`
	HeightM *float64 `toml:"height_m"`
}

type fileSetup struct {
	Name                 *string  `toml:"name"`
	MassKg               *float64 `toml:"mass_kg"`
	CdaChangeM2          *float64 `toml:"cda_change_m2"`
	Crr                  *float64 `toml:"crr"`
	DrivetrainEfficiency *float64 `toml:"drivetrain_efficiency"`
}

type fileLimits struct {
	PersonPerMinute *float64 `toml:"person_per_minute"`
	RoomPerMinute   *float64 `toml:"room_per_minute"`
}

// settings are a checked configuration.
type settings struct {
	state         string
	zone          *time.Location
	units         contract.Units
	maxChars      int
	indoor        bool
	shelteredDrag float64

	account *account
	rooms   []roomSettings
	hooks   []hookSettings
	rounds  []round
	posts   []post
	rider   *contract.Rider
	setup   *contract.Setup

	personPerMinute, roomPerMinute float64
}

// account is who the bot is in chats, and whose accounts may ask it directly.
type account struct {
	chat.Account
	nick    string
	askedBy []string
}

type roomSettings struct {
	name, password string
	address        jid.JID
}

type hookSettings struct {
	name string
	hook *hook.Hook
	// picture is how the picture comes along: attached, address or none.
	picture string
}

// post is what is posted, where to and when.
type post struct {
	to       []string
	text     string
	schedule when.Schedule
	// round names a round; "next" is the first that isn't over.
	round string
	late  time.Duration
}

// The bounds and defaults of settings.
const (
	defaultMaxChars = 1200
	minMaxChars     = 120
	mostMaxChars    = 20_000
	// defaultSheltered is about the drag of the second in a line of riders of four or more
	// (Blocken et al. 2018, J. Wind Eng. Ind. Aerodyn. 179:319–341, from memory: 0.6 to 0.7).
	defaultSheltered       = 0.65
	defaultLate            = 6 * time.Hour
	mostLate               = 7 * 24 * time.Hour
	defaultPersonPerMinute = 4
	defaultRoomPerMinute   = 12
	mostPerMinute          = 600
	mostSecretBytes        = 4096
)

// readSettings reads a configuration and names all its faults.
func readSettings(name string) (*settings, []error) {
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, []error{err}
	}
	var f file
	d := toml.NewDecoder(strings.NewReader(string(text))).DisallowUnknownFields()
	if err := d.Decode(&f); err != nil {
		return nil, tomlFaults(err)
	}
	c := &checker{dir: filepath.Dir(name)}
	s := c.settings(&f)
	return s, c.faults
}

// tomlFaults tells where a file isn't what it should be.
func tomlFaults(err error) []error {
	if unknown, ok := errors.AsType[*toml.StrictMissingError](err); ok {
		var faults []error
		for _, e := range unknown.Errors {
			line, _ := e.Position()
			faults = append(faults, fmt.Errorf("line %d: there is no setting %s", line, strings.Join(e.Key(), ".")))
		}
		return faults
	}
	if wrong, ok := errors.AsType[*toml.DecodeError](err); ok {
		line, column := wrong.Position()
		return []error{fmt.Errorf("line %d, column %d: %w", line, column, err)}
	}
	return []error{err}
}

// checker turns what is written into settings and collects the faults.
type checker struct {
	dir    string
	faults []error
}

func (c *checker) fault(format string, values ...any) {
	c.faults = append(c.faults, fmt.Errorf(format, values...))
}

// path returns a file's name from where the configuration lies.
func (c *checker) path(name string) string {
	if filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(c.dir, name)
}

func (c *checker) settings(f *file) *settings {
	s := &settings{
		state: c.path(f.State), zone: c.zone(f.Zone), units: cmp.Or(f.Units, contract.Metric), maxChars: cmp.Or(f.MaxChars, defaultMaxChars),
		indoor: f.Indoor, shelteredDrag: cmp.Or(f.ShelteredDrag, defaultSheltered),
		account: c.account(f.Account), rooms: c.rooms(f), hooks: c.hooks(f), rounds: c.rounds(f.Courses),
		rider: c.rider(f.Rider), setup: c.setup(f.Setup),
		personPerMinute: defaultPersonPerMinute, roomPerMinute: defaultRoomPerMinute,
	}
	if f.State == "" {
		c.fault("state: name the directory that remembers what was posted")
	}
	if s.units != contract.Metric && s.units != contract.Imperial {
		c.fault("units: %q is neither metric nor imperial", s.units)
	}
	c.within("max_chars", float64(s.maxChars), minMaxChars, mostMaxChars)
	c.within("sheltered_drag", s.shelteredDrag, 0.2, 1)
	if f.Limits != nil {
		s.personPerMinute = c.perMinute("limits.person_per_minute", f.Limits.PersonPerMinute, s.personPerMinute)
		s.roomPerMinute = c.perMinute("limits.room_per_minute", f.Limits.RoomPerMinute, s.roomPerMinute)
	}
	if len(s.rooms) == 0 && len(s.hooks) == 0 {
		c.fault("rooms, webhooks: there is nowhere to post to")
	}
	c.names(s)
	s.posts = c.posts(f, s)
	return s
}

func (c *checker) zone(name string) *time.Location {
	zone, err := time.LoadLocation(cmp.Or(name, "UTC"))
	if err != nil {
		c.fault("zone: %q is not a time zone like Europe/Brussels", name)
		return time.UTC
	}
	return zone
}

func (c *checker) within(name string, value, low, high float64) {
	if !(low <= value && value <= high) {
		c.fault("%s: %v is not from %v to %v", name, value, low, high)
	}
}

func (c *checker) perMinute(name string, value *float64, otherwise float64) float64 {
	if value == nil {
		return otherwise
	}
	c.within(name, *value, 0.1, mostPerMinute)
	return *value
}

// names checks that every place to post to has a name of its own.
func (c *checker) names(s *settings) {
	seen := map[string]bool{}
	all := []string{}
	for _, r := range s.rooms {
		all = append(all, r.name)
	}
	for _, h := range s.hooks {
		all = append(all, h.name)
	}
	for _, name := range all {
		if name == "" || seen[name] {
			c.fault("rooms, webhooks: each wants a name of its own, and %q is not", name)
		}
		seen[name] = true
	}
}

func (c *checker) account(f *fileAccount) *account {
	if f == nil {
		return nil
	}
	address, err := jid.Parse(f.JID)
	if err != nil || address.Localpart() == "" {
		c.fault("account.jid: %q is not an address like courses@league.example", f.JID)
	}
	if address.Resourcepart() == "" { // always the same, so that a new connection takes the place of one that hangs
		if with, err := address.WithResource("parcours-bot"); err == nil {
			address = with
		}
	}
	a := &account{
		Account: chat.Account{JID: address, Address: f.Address, Password: c.secret("account.password", f.PasswordFile, f.PasswordEnv, true)},
		nick:    cmp.Or(f.Nick, "Parcours"), askedBy: f.AskedBy,
	}
	if a.askedBy == nil {
		a.askedBy = []string{address.Domainpart()}
	}
	if f.AuthoritiesFile != "" {
		a.Roots = c.authorities(f.AuthoritiesFile)
	}
	return a
}

func (c *checker) authorities(name string) *x509.CertPool {
	text, err := os.ReadFile(c.path(name))
	roots := x509.NewCertPool()
	if err != nil {
		c.fault("account.authorities_file: %w", err)
	} else if !roots.AppendCertsFromPEM(text) {
		c.fault("account.authorities_file: %s holds no certificate", name)
	}
	return roots
}

// secret reads a secret from a file or the environment.
func (c *checker) secret(name, file, env string, needed bool) string {
	switch {
	case file != "" && env != "":
		c.fault("%s_file, %s_env: one of them", name, name)
	case file != "":
		secret, err := readSecret(c.path(file))
		if err != nil {
			c.fault("%s_file: %w", name, err)
		}
		return secret
	case env != "":
		secret := os.Getenv(env)
		if secret == "" {
			c.fault("%s_env: the environment has no %s", name, env)
		}
		return secret
	case needed:
		c.fault("%s_file: name the file that holds it, or with %s_env a variable of the environment", name, name)
	}
	return ""
}

// readSecret reads a file that holds a secret and perhaps the end of its line.
func readSecret(name string) (string, error) {
	text, err := os.ReadFile(name)
	if err != nil {
		return "", err
	}
	secret := strings.TrimRight(string(text), "\r\n")
	if secret == "" || len(secret) > mostSecretBytes {
		return "", fmt.Errorf("%s doesn't hold a secret of 1 to %d bytes", name, mostSecretBytes)
	}
	return secret, nil
}

func (c *checker) rooms(f *file) []roomSettings {
	var rooms []roomSettings
	for i, r := range f.Rooms {
		at := fmt.Sprintf("rooms[%d]", i)
		address, err := jid.Parse(r.JID)
		if err != nil || address.Localpart() == "" || address.Resourcepart() != "" {
			c.fault("%s.jid: %q is not a room's address like riders@rooms.league.example", at, r.JID)
		}
		rooms = append(rooms, roomSettings{name: r.Name, address: address, password: c.secret(at+".password", r.PasswordFile, r.PasswordEnv, false)})
	}
	if len(rooms) > 0 && f.Account == nil {
		c.fault("account: rooms are joined with one")
	}
	return rooms
}

func (c *checker) hooks(f *file) []hookSettings {
	var hooks []hookSettings
	for i, w := range f.Webhooks {
		at := fmt.Sprintf("webhooks[%d]", i)
		address := w.URL
		if address == "" {
			address = c.secret(at+".url", w.URLFile, w.URLEnv, true)
		}
		h, err := hook.New(address, []byte(c.secret(at+".secret", w.SecretFile, w.SecretEnv, false)), nil)
		if err != nil && address != "" {
			c.fault("%s.url: %w", at, err)
		}
		picture := cmp.Or(w.Picture, "attached")
		switch {
		case !slices.Contains([]string{"attached", "address", "none"}, picture):
			c.fault("%s.picture: %q is neither attached nor address nor none", at, picture)
		case picture == "address" && f.Account == nil:
			c.fault("%s.picture: an address comes from the chat server, so that it wants an account", at)
		}
		hooks = append(hooks, hookSettings{name: w.Name, hook: h, picture: picture})
	}
	return hooks
}

func (c *checker) rider(f *fileRider) *contract.Rider {
	if f == nil {
		return nil
	}
	c.within("rider.mass_kg", f.MassKg, 20, 250)
	c.within("rider.power_w", f.PowerW, 1, 4000)
	return &contract.Rider{Name: f.Name, MassKg: f.MassKg, PowerW: &f.PowerW, HeightM: f.HeightM}
}

func (c *checker) setup(f *fileSetup) *contract.Setup {
	if f == nil {
		return nil
	}
	return &contract.Setup{Name: f.Name, MassKg: f.MassKg, CdaChangeM2: f.CdaChangeM2, Crr: f.Crr, DrivetrainEfficiency: f.DrivetrainEfficiency}
}

func (c *checker) posts(f *file, s *settings) []post {
	names := map[string]bool{}
	for _, r := range s.rooms {
		names[r.name] = true
	}
	for _, h := range s.hooks {
		names[h.name] = true
	}
	var posts []post
	for i, p := range f.Posts {
		posts = append(posts, c.post(fmt.Sprintf("posts[%d]", i), p, s.zone, names, s.rounds))
	}
	return posts
}

func (c *checker) post(at string, f filePost, zone *time.Location, names map[string]bool, rounds []round) post {
	p := post{to: f.To, text: f.When, round: cmp.Or(f.Round, "next"), late: defaultLate}
	if len(p.to) == 0 {
		p.to = slices.Sorted(maps.Keys(names))
	}
	for _, to := range p.to {
		if !names[to] {
			c.fault("%s.to: there is no room and no webhook %q", at, to)
		}
	}
	var err error
	if p.schedule, err = when.Parse(f.When, zone); err != nil {
		c.fault("%s.when: %w", at, err)
	}
	if f.LateWithin != "" {
		if p.late, err = time.ParseDuration(f.LateWithin); err != nil || p.late < time.Minute || p.late > mostLate {
			c.fault("%s.late_within: %q is not a duration from 1m to %v, like 6h", at, f.LateWithin, mostLate)
		}
	}
	dated := slices.ContainsFunc(rounds, func(r round) bool { return r.date != nil })
	switch {
	case p.round != "next":
		if found, err := findRound(rounds, p.round); err != nil || found == nil {
			c.fault("%s.round: %q names no round, or several", at, p.round)
		} else if p.schedule.OfRounds() {
			c.fault("%s.round: “%s” is counted from every round, so that it names none itself", at, f.When)
		}
	case !dated && len(rounds) > 0:
		c.fault("%s.round: which one is next is told by courses' dates, and none has one", at)
	}
	return p
}
