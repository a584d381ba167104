package cache

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"log/slog"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"parcours.example/internal/redistest"
	"parcours.example/internal/sharedlog"
)

// certificates makes an authority, and files of a certificate for 127.0.0.1 that it signed.
func certificates(t *testing.T) (authority *x509.CertPool, cert, key string) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "test"}, NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &private.PublicKey, private)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	cert, key = filepath.Join(t.TempDir(), "cert.pem"), filepath.Join(t.TempDir(), "key.pem")
	for name, block := range map[string]*pem.Block{cert: {Type: "CERTIFICATE", Bytes: der}, key: {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(name, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	authority = x509.NewCertPool()
	signed, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	authority.AddCert(signed)
	return authority, cert, key
}

// overTLS lets a server that has a password answer over TLS, and returns its address.
func overTLS(t *testing.T, server *redistest.Server, cert, key string) string {
	t.Helper()
	l, err := new(net.ListenConfig).Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := l.Addr().String()
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	_, port, _ := net.SplitHostPort(address)
	db := server.Client()
	for _, setting := range [][2]string{
		{"tls-cert-file", cert}, {"tls-key-file", key}, {"tls-ca-cert-file", cert}, {"tls-auth-clients", "no"}, {"tls-port", port}, {"requirepass", "secret"},
	} {
		if err := db.ConfigSet(t.Context(), setting[0], setting[1]).Err(); err != nil {
			t.Skipf("this Redis has no TLS: %v", err)
		}
	}
	return address
}

// Over TLS and with a password Redis is used where its certificate is good for its name, and
// left alone where it isn't or the password is wrong.
func TestTLS(t *testing.T) {
	authority, cert, key := certificates(t)
	address := overTLS(t, redistest.Start(t), cert, key)
	log := new(sharedlog.Buffer)
	try := func(password string, authority *x509.CertPool, name string) *Shared {
		cfg := Config{URLs: []string{"rediss://" + address}, Password: password, Logger: slog.New(slog.NewTextHandler(log, nil))}
		options, err := optionsOf(cfg.URLs, cfg.Password)
		if err != nil {
			t.Fatal(err)
		}
		options.TLSConfig.RootCAs = authority
		if name != "" {
			options.TLSConfig.ServerName = name
		}
		s, err := use(cfg, options)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = s.Close(context.Background()) })
		return s
	}
	good := try("secret", authority, "")
	eventually(t, "written and read", func() bool {
		good.PutLater("parcours:k", 5, bytesOf("truth"))
		_, ok := get(t, good, "parcours:k")
		return ok
	})
	for name, s := range map[string]*Shared{
		"an unknown authority": try("secret", x509.NewCertPool(), ""),
		"another name":         try("secret", authority, "cache.example"),
		"a wrong password":     try("wrong", authority, ""),
	} {
		eventually(t, "left alone for "+name, func() bool {
			if _, ok := get(t, s, "parcours:k"); ok {
				t.Fatalf("%s: read", name)
			}
			return s.Degraded()
		})
	}
	for _, reason := range []string{"unknown authority", "cache.example", "WRONGPASS"} {
		eventually(t, "told: "+reason, func() bool { return strings.Contains(log.String(), reason) })
	}
	if strings.Contains(log.String(), "secret") {
		t.Errorf("the password is in the log:\n%s", log)
	}
}

// Of several servers each certificate is held against its own server's name.
func TestEachServerHasItsName(t *testing.T) {
	for _, urls := range [][]string{{"rediss://a:1", "rediss://b:2"}, {"rediss://a:1?master=main"}} {
		if o, err := optionsOf(urls, ""); err != nil || o.TLSConfig.ServerName != "" {
			t.Errorf("%v: %q, %v", urls, o.TLSConfig.ServerName, err)
		}
	}
	if o, err := optionsOf([]string{"rediss://a:1"}, ""); err != nil || o.TLSConfig.ServerName != "a" {
		t.Errorf("%q, %v", o.TLSConfig.ServerName, err)
	}
}
