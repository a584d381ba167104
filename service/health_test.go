package main

import (
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

func TestHealth(t *testing.T) {
	status := http.StatusOK
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != "/readyz" {
			t.Errorf("asks for %s", r.URL.Path)
		}
		w.WriteHeader(status)
	}))
	address := server.Listener.Addr().String()
	_, port, _ := net.SplitHostPort(address)
	ask := func(listen string) int {
		var stdout, stderr strings.Builder
		return run([]string{"health", "--listen=" + listen}, strings.NewReader(""), &stdout, &stderr)
	}
	for _, listen := range []string{address, ":" + port, "0.0.0.0:" + port, "[::]:" + port} {
		if code := ask(listen); code != exitDone {
			t.Errorf("%s: exit code %d though the server is ready", listen, code)
		}
	}
	status = http.StatusServiceUnavailable
	if code := ask(address); code != exitFailed {
		t.Errorf("exit code %d though the server is stopping", code)
	}
	server.Close()
	if code := ask(address); code != exitFailed {
		t.Errorf("exit code %d though there is no server", code)
	}
	if code := ask("nowhere"); code != exitUsage {
		t.Errorf("exit code %d for no address", code)
	}
}
