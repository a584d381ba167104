// Package prosodytest starts a real chat server, Prosody, for tests. Nothing that ships
// imports it.
package prosodytest

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"math/big"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// The names of the server and its parts.
const (
	Domain = "league.test"
	Rooms  = "rooms.league.test"
	files  = "files.league.test"
)

// Server is a Prosody of a test.
type Server struct {
	t   testing.TB
	dir string
	// port is of clients, filesPort where files are put and fetched by HTTPS.
	port, filesPort int
	history         bool
	cmd             *exec.Cmd
	log             bytes.Buffer
	// Roots holds the server's certificate, RootsFile is where it lies as PEM.
	Roots     *x509.CertPool
	RootsFile string
}

// Start starts a server with accounts, each of a name that is its password too, and ends it
// with the test. With history its rooms keep what is said in them. Where no Prosody is
// installed the test is skipped, or fails with PARCOURS_REQUIRE=1.
func Start(t testing.TB, history bool, accounts ...string) *Server {
	t.Helper()
	if _, err := exec.LookPath("prosody"); err != nil {
		if os.Getenv("PARCOURS_REQUIRE") == "1" {
			t.Fatal("prosody isn't installed")
		}
		t.Skip("prosody isn't installed")
	}
	s := &Server{t: t, dir: t.TempDir(), port: freePort(t), filesPort: freePort(t), history: history}
	s.certify()
	s.write("prosody.cfg.lua", s.config())
	for _, name := range accounts {
		s.write(filepath.Join("data", "league%2etest", "accounts", name+".dat"), fmt.Sprintf("return { [\"password\"] = %q; };\n", name))
	}
	s.Restart()
	t.Cleanup(s.Kill)
	return s
}

// Address is host:port for clients.
func (s *Server) Address() string { return net.JoinHostPort("127.0.0.1", strconv.Itoa(s.port)) }

// Restart starts the server again on its ports, with what it kept on disk, and waits until it
// takes clients.
func (s *Server) Restart() {
	s.t.Helper()
	s.cmd = exec.Command("prosody", "-F", "--config", filepath.Join(s.dir, "prosody.cfg.lua")) //nolint:gosec,noctx // ended by Kill
	s.cmd.Stdout, s.cmd.Stderr = &s.log, &s.log
	if err := s.cmd.Start(); err != nil {
		s.t.Fatal(err)
	}
	deadline := time.Now().Add(20 * time.Second)
	for !s.listens() {
		if time.Now().After(deadline) {
			s.Kill()
			s.t.Fatalf("prosody doesn't listen:\n%s", s.log.String())
		}
		<-time.After(10 * time.Millisecond)
	}
}

func (s *Server) listens() bool {
	for _, port := range []int{s.port, s.filesPort} {
		conn, err := new(net.Dialer).DialContext(context.Background(), "tcp", net.JoinHostPort("127.0.0.1", strconv.Itoa(port)))
		if err != nil {
			return false
		}
		_ = conn.Close() // it was only to see
	}
	return true
}

// Kill ends the server at once, as a crash does.
func (s *Server) Kill() { s.end(syscall.SIGKILL) }

// Stop ends the server as its operator does.
func (s *Server) Stop() { s.end(syscall.SIGTERM) }

func (s *Server) end(sig syscall.Signal) {
	if s.cmd == nil {
		return
	}
	_ = s.cmd.Process.Signal(sig) // one that is gone needs none
	_ = s.cmd.Wait()              // it was killed
	s.cmd = nil
}

// config is the server's configuration: no other servers, no plain connections.
func (s *Server) config() string {
	roomModules := ""
	if s.history {
		roomModules = `"muc_mam";`
	}
	return strings.NewReplacer("$DIR", s.dir, "$PORT", strconv.Itoa(s.port), "$FILES", strconv.Itoa(s.filesPort), "$ROOM_MODULES", roomModules).Replace(`
run_as_root = true
daemonize = false
pidfile = "$DIR/prosody.pid"
data_path = "$DIR/data"
certificates = "$DIR/certificates"
log = { warn = "*console" }
modules_enabled = { "roster"; "saslauth"; "tls"; "disco"; "ping" }
modules_disabled = { "s2s"; "offline" }
authentication = "internal_plain"
c2s_require_encryption = true
c2s_interfaces = { "127.0.0.1" }
c2s_ports = { $PORT }
http_ports = {}
https_interfaces = { "127.0.0.1" }
https_ports = { $FILES }
limits = { c2s = { rate = "10mb/s" } }
VirtualHost "league.test"
  disco_items = { { "rooms.league.test" }; { "files.league.test" } }
Component "rooms.league.test" "muc"
  modules_enabled = { $ROOM_MODULES }
  restrict_room_creation = false
  muc_room_default_persistent = true
  muc_room_default_history_length = 20
  muc_log_by_default = true
  muc_room_locking = false
Component "files.league.test" "http_file_share"
  http_host = "localhost"
  http_external_url = "https://localhost:$FILES/"
  http_file_share_access = { "league.test" }
`)
}

func (s *Server) write(name, content string) {
	s.t.Helper()
	name = filepath.Join(s.dir, name)
	if err := os.MkdirAll(filepath.Dir(name), 0o700); err != nil {
		s.t.Fatal(err)
	}
	if err := os.WriteFile(name, []byte(content), 0o600); err != nil {
		s.t.Fatal(err)
	}
}

// certify makes a certificate for all names of the server.
func (s *Server) certify() {
	s.t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		s.t.Fatal(err)
	}
	now := time.Now()
	template := &x509.Certificate{
		SerialNumber: big.NewInt(now.UnixNano()), Subject: pkix.Name{CommonName: Domain},
		NotBefore: now.Add(-time.Hour), NotAfter: now.Add(24 * time.Hour),
		DNSNames: []string{Domain, Rooms, files, "localhost"}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		s.t.Fatal(err)
	}
	private, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		s.t.Fatal(err)
	}
	certificate := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	for _, host := range []string{Domain, "localhost"} {
		s.write(filepath.Join("certificates", host+".crt"), string(certificate))
		s.write(filepath.Join("certificates", host+".key"), string(pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: private})))
	}
	s.Roots = x509.NewCertPool()
	s.Roots.AppendCertsFromPEM(certificate)
	s.RootsFile = filepath.Join(s.dir, "certificates", Domain+".crt")
}

func freePort(t testing.TB) int {
	t.Helper()
	l, err := new(net.ListenConfig).Listen(context.Background(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}
