package api

import (
	"bytes"
	"io"
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/klauspost/compress/gzip"

	"parcours.example/service/engine"
)

// TestBudget demands that bodies beyond the budget are refused while others are held,
// as sent or as decoded, and taken again once they are gone.
func TestBudget(t *testing.T) {
	e, err := engine.New(engine.Config{HeldBytes: 1000})
	if err != nil {
		t.Fatal(err)
	}
	defer e.Close()
	s := &server{engine: e}
	g := gin.New()
	inside, leave := make(chan bool), make(chan bool)
	g.POST("/", s.readBody, func(c *gin.Context) {
		if c.Query("wait") != "" {
			inside <- true
			<-leave
		}
		c.Status(http.StatusNoContent)
	})
	post := func(query string, body []byte, coding string) int {
		r := httptest.NewRequest(http.MethodPost, "/"+query, io.MultiReader(bytes.NewReader(body))) // of unknown length
		r.Header.Set("Content-Encoding", coding)
		w := httptest.NewRecorder()
		g.ServeHTTP(w, r)
		if w.Code == http.StatusServiceUnavailable && w.Header().Get("Retry-After") == "" {
			t.Error("refused without Retry-After")
		}
		return w.Code
	}
	var zipped bytes.Buffer
	z := gzip.NewWriter(&zipped)
	z.Write(make([]byte, 500)) //nolint:errcheck // to memory
	z.Close()                  //nolint:errcheck // to memory

	first := make(chan int)
	go func() { first <- post("?wait=1", make([]byte, 600), "") }()
	<-inside
	for name, tc := range map[string]struct {
		body   []byte
		coding string
		status int
	}{
		"what fits":             {make([]byte, 400), "", http.StatusNoContent},
		"one more":              {make([]byte, 401), "", http.StatusServiceUnavailable},
		"too much once decoded": {zipped.Bytes(), "gzip", http.StatusServiceUnavailable},
	} {
		if got := post("", tc.body, tc.coding); got != tc.status {
			t.Errorf("%s: status %d, want %d", name, got, tc.status)
		}
	}
	leave <- true
	if got := <-first; got != http.StatusNoContent {
		t.Errorf("the first: status %d", got)
	}
	if got := post("", zipped.Bytes(), "gzip"); got != http.StatusNoContent {
		t.Errorf("afterwards: status %d", got)
	}
	if got := post("", make([]byte, 1000), ""); got != http.StatusNoContent {
		t.Errorf("all of it: status %d", got)
	}
}
