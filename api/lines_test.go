package api

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/gin-gonic/gin"

	"parcours.example/service/engine"
)

// TestStreamOfFailures demands a problem with its status from work that fails before it
// tells anything, a problem in its line and an end from work that fails later, and nothing
// more, above all no end, once the caller has left.
func TestStreamOfFailures(t *testing.T) {
	busy := &engine.BusyError{RetryAfter: time.Second}
	for name, tc := range map[string]struct {
		told  int
		leave bool
		err   error
		// status and ends are the reply's, lines the number of its lines.
		status, lines int
		ends          string
	}{
		"at once":        {0, false, busy, http.StatusServiceUnavailable, 1, "}"},
		"later":          {2, false, &engine.PanicError{Value: "secret"}, http.StatusOK, 4, `{"end":{"runs":9,"runs_done":1}}`},
		"left":           {2, true, context.Canceled, http.StatusOK, 2, `{"progress":{"runs":9,"runs_done":1}}`},
		"left at once":   {0, true, context.Canceled, http.StatusOK, 0, ""},
		"not at all":     {1, false, nil, http.StatusOK, 3, `{"end":{"runs":9,"runs_done":0}}`},
		"something else": {1, false, errors.New("secret"), http.StatusOK, 3, `{"end":{"runs":9,"runs_done":0}}`},
	} {
		var log bytes.Buffer
		s := &server{logger: slog.New(slog.NewJSONHandler(&log, nil)), meter: newTestMeter(t)}
		ctx, leave := context.WithCancel(t.Context())
		g := gin.New()
		g.POST("/", identify, func(c *gin.Context) {
			s.stream(c, func(progress func(done, of int)) (*engine.Answer, error) {
				for i := range tc.told {
					progress(i, 9)
				}
				if tc.leave {
					leave()
				}
				return &engine.Answer{Body: []byte(`{"a":1}` + "\n")}, tc.err
			})
		})
		w := httptest.NewRecorder()
		g.ServeHTTP(w, httptest.NewRequest(http.MethodPost, "/", nil).WithContext(ctx))
		leave()
		body := strings.TrimSpace(w.Body.String())
		if w.Code != tc.status || strings.Count(w.Body.String(), "\n") != tc.lines || !strings.HasSuffix(body, tc.ends) || strings.Contains(body, "secret") {
			t.Errorf("%s: status %d: %s", name, w.Code, body)
		}
		if failed := tc.err != nil && !tc.leave; failed != strings.Contains(body, `"/problems/`) || (tc.err == nil) != strings.Contains(body, `{"result":{"a":1}}`) {
			t.Errorf("%s: %s", name, body)
		}
		if told := strings.Contains(log.String(), "secret"); told != (tc.err != nil && strings.Contains(tc.err.Error(), "secret")) {
			t.Errorf("%s: log %s", name, log.String())
		}
	}
}
