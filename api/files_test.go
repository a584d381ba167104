package api_test

import (
	"encoding/base64"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"parcours.example/analysis/track"
	"parcours.example/service/engine"
)

// TestFilesInsideJSON demands that a file inside JSON gives the course that it gives
// as a body, plain or compressed, named or not.
func TestFilesInsideJSON(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for extension, mediaType := range map[string]string{
		"gpx": "application/gpx+xml", "geojson": "application/json", "kml": "application/kml+xml", "csv": "text/csv",
		"profile.csv": "text/csv", "fit": "application/vnd.ant.fit", "tcx": "application/tcx+xml",
	} {
		file := readFile(t, "testdata/examples/orchard-loop."+extension)
		id := courseID(t, h.send(t, request(http.MethodPost, "/v1/courses", mediaType, file)).Body.Bytes())
		for name, object := range map[string]string{
			"named":      inJSON(mediaType, file),
			"not named":  inJSON("", file),
			"compressed": inJSON(mediaType, gzipped(file)),
		} {
			w := h.send(t, request(http.MethodPost, "/v1/briefs", "application/json", []byte(`{"course": `+object+`}`)))
			if got := courseID(t, w.Body.Bytes()); w.Code != http.StatusOK || got != id {
				t.Errorf("%s, %s: status %d, course %q, want %q: %.300s", extension, name, w.Code, got, id, w.Body)
			}
		}
	}
}

// inJSON returns a file as the contract has it inside a request.
func inJSON(mediaType string, file []byte) string {
	named := ""
	if mediaType != "" {
		named = fmt.Sprintf(`"media_type": %q, `, mediaType)
	}
	return fmt.Sprintf(`{"file": {%s"encoding": "base64", "content": %q}}`, named, base64.StdEncoding.EncodeToString(file))
}

func courseID(t *testing.T, body []byte) string {
	t.Helper()
	var reply struct {
		CourseID string `json:"course_id"`
	}
	if err := json.Unmarshal(body, &reply); err != nil {
		t.Fatal(err)
	}
	return reply.CourseID
}

// TestUnpackedTooLarge demands 413 with the limit for a file that unpacks to more
// bytes than are read, and the place in the request where there is one.
func TestUnpackedTooLarge(t *testing.T) {
	const limit = 1 << 16
	h := newHarness(t, engine.Config{Limits: engine.Limits{Track: track.Limits{Bytes: limit}}})
	file := gzipped([]byte(strings.Repeat(" ", limit+1)))
	p := checkProblem(t, h.send(t, request(http.MethodPost, "/v1/courses", "", file)), "too-large")
	if p["limit"] != float64(limit) {
		t.Errorf("limit %v", p["limit"])
	}
	w := h.send(t, request(http.MethodPost, "/v1/briefs", "application/json", []byte(`{"course": `+inJSON("", file)+`}`)))
	checkProblem(t, w, "too-large")
	if fs := faultsOf(t, w.Body.Bytes()); len(fs) != 1 || fs[0].Pointer != "#/course/file" {
		t.Errorf("%+v", fs)
	}
}

// TestDistancesBeyondAllMeasure demands that a table of distances that are hardly numbers any
// more is refused with the distance, in every place that a file can stand in.
func TestDistancesBeyondAllMeasure(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for _, file := range []string{"distance,elevation\n0,1\n1e306,2\n", "distance,elevation\n0,1\n1e306,2\n1.1e306,3\n"} {
		for _, path := range []string{"/v1/courses", "/v1/briefs"} {
			p := checkProblem(t, h.send(t, request(http.MethodPost, path, "text/csv", []byte(file))), "too-long")
			if actual, is := p["actual"].(float64); !is || actual < 1e306 {
				t.Errorf("actual %v", p["actual"])
			}
		}
	}
}
