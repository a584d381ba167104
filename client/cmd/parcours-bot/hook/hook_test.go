package hook

import (
	"encoding/json"
	"errors"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
)

var message = Message{ID: "m1", Text: "Morvask & Wall\n\n48.8 km <br>", PictureURL: "https://files.example/p.png"}

func hookTo(t *testing.T, secret string, answer http.HandlerFunc) *Hook {
	t.Helper()
	s := httptest.NewServer(answer)
	t.Cleanup(s.Close)
	h, err := New(s.URL+"/incoming?token=hidden", []byte(secret), nil)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func TestJSON(t *testing.T) {
	h := hookTo(t, "secret", func(_ http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		var got map[string]string
		if err := json.Unmarshal(body, &got); err != nil || r.Method != http.MethodPost || r.Header.Get("Content-Type") != "application/json" {
			t.Errorf("%s %v: %s", r.Method, r.Header, body)
		}
		if got["id"] != message.ID || got["text"] != message.Text || got["picture_url"] != message.PictureURL || len(got) != 3 {
			t.Errorf("%s", body)
		}
		if want := Signature([]byte("secret"), r.Header.Get("Parcours-Time"), body); r.Header.Get("Parcours-Signature") != want {
			t.Errorf("signed %q, want %q", r.Header.Get("Parcours-Signature"), want)
		}
	})
	if err := h.Post(t.Context(), message); err != nil {
		t.Fatal(err)
	}
}

func TestAttached(t *testing.T) {
	h := hookTo(t, "", func(w http.ResponseWriter, r *http.Request) {
		f, head, err := r.FormFile("picture")
		if err != nil {
			t.Error(err)
			return
		}
		content, _ := io.ReadAll(f)
		if string(content) != "png" || head.Header.Get("Content-Type") != "image/png" || r.FormValue("id") != "m2" || r.FormValue("text") != "text" || r.Header.Get("Parcours-Signature") != "" {
			t.Errorf("%v: %q", r.Form, content)
		}
		w.WriteHeader(http.StatusNoContent)
	})
	if err := h.Post(t.Context(), Message{ID: "m2", Text: "text", Picture: []byte("png")}); err != nil {
		t.Fatal(err)
	}
}

func TestFailures(t *testing.T) {
	hangUp := func(w http.ResponseWriter, _ *http.Request) {
		conn, _, err := http.NewResponseController(w).Hijack()
		if err == nil {
			conn.Close()
		}
	}
	answers := func(status int) http.HandlerFunc {
		return func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Location", "/elsewhere")
			w.WriteHeader(status)
		}
	}
	for name, tc := range map[string]struct {
		answer          http.HandlerFunc
		away, uncertain bool
	}{
		"500":        {answers(500), true, false},
		"503":        {answers(503), true, false},
		"429":        {answers(429), true, false},
		"404":        {answers(404), false, false},
		"302":        {answers(302), false, false},
		"hanging up": {hangUp, false, true},
	} {
		var asked atomic.Int32
		err := hookTo(t, "", func(w http.ResponseWriter, r *http.Request) { asked.Add(1); tc.answer(w, r) }).Post(t.Context(), message)
		if err == nil || errors.Is(err, ErrAway) != tc.away || errors.Is(err, ErrUncertain) != tc.uncertain || strings.Contains(err.Error(), "hidden") || asked.Load() != 1 {
			t.Errorf("%s: %v, asked %d times", name, err, asked.Load())
		}
	}
	l, err := net.Listen("tcp", "127.0.0.1:0") //nolint:noctx // closed at once
	if err != nil {
		t.Fatal(err)
	}
	l.Close()
	h, err := New("http://"+l.Addr().String()+"/?token=hidden", nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := h.Post(t.Context(), message); !errors.Is(err, ErrAway) || strings.Contains(err.Error(), "hidden") {
		t.Errorf("nobody listens: %v", err)
	}
}

func TestAddresses(t *testing.T) {
	for address, ok := range map[string]bool{
		"https://league.example/in": true, "http://127.0.0.1:1/in": true, "http://localhost/in": true, "http://[::1]/in": true,
		"http://league.example/in": false, "ftp://league.example": false, "league.example": false, "": false, "https://": false, "http://%zz": false,
	} {
		if _, err := New(address, nil, nil); (err == nil) != ok {
			t.Errorf("%q: %v", address, err)
		}
	}
}
