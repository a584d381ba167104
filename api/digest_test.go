package api_test

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"parcours.example/service/engine"
)

// TestDigestOfAnswers prints the digest of the answers to every file of the season and every
// recorded one. .ci/samebits, which alone asks for it, holds it against that of other builds on
// other numbers of processors.
func TestDigestOfAnswers(t *testing.T) {
	if os.Getenv("PARCOURS_DIGEST") == "" {
		t.Skip("for .ci/samebits")
	}
	files := courseFiles(t)
	if testing.Short() {
		files = files[:4]
	}
	t.Logf("digest of the answers to %d files: %s", len(files), digestOfAnswers(t, files))
}

// courseFiles lists the season's and the recorded files below the module's root.
func courseFiles(t *testing.T) []string {
	t.Helper()
	var files []string
	for _, folder := range []string{"season", "recorded"} {
		names, err := filepath.Glob(filepath.Join(root, "testdata", folder, "*.gpx"))
		if err != nil || len(names) == 0 {
			t.Fatalf("%s: %d files, %v", folder, len(names), err)
		}
		for _, name := range names {
			files = append(files, filepath.Join("testdata", folder, filepath.Base(name)))
		}
	}
	slices.Sort(files)
	return files
}

// digestOfAnswers returns the digest of what a fresh service answers: all of the
// course, a prediction with its trace, a plan of its first kilometres and a race over them,
// a launch to its finish, two set-ups compared, the brief and pictures, each where there is
// one; and the contract's fits of riders.
func digestOfAnswers(t *testing.T, files []string) string {
	t.Helper()
	h := newHarness(t, engine.Config{})
	digest := sha256.New()
	answered := 0
	for _, name := range files {
		file := readFile(t, name)
		course := request(http.MethodPost, "/v1/courses?include=profile,geometry", "", file)
		of := object{
			"course": object{"file": object{"media_type": "application/gpx+xml", "content": base64.StdEncoding.EncodeToString(file), "encoding": "base64"}},
			"riders": []any{object{"mass_kg": 72, "critical_power_w": 250, "w_prime_j": 18_000}},
		}
		prediction := post(t, "/v1/predictions?include=trace", with(of, object{"effort": object{"kind": "power", "power_w": 260}}))
		plan := post(t, "/v1/plans", with(of, object{"end_m": 1900}))
		race := post(t, "/v1/scenarios", with(of, object{"end_m": 1900, "drawn": []any{object{"name": "Bunch", "count": 7}}, "rules": object{"runs": 9, "mishaps_per_h": 2}}))
		brief := request(http.MethodPost, "/v1/briefs?rider=mass=72,power=260", "", file)
		launch := post(t, "/v1/launches", with(of, object{"lines": []any{object{"at": object{"finish": true}}}}))
		comparison := post(t, "/v1/comparisons", with(of, object{
			"end_m": 1900, "effort": object{"kind": "power", "power_w": 260}, "setups": []any{object{"mass_kg": 9.2, "cda_change_m2": -0.02}, object{"mass_kg": 6.8}},
			"changes": []any{object{"from_index": 0, "to_index": 1, "at": object{"at_m": 900}}},
		}))
		for _, r := range []*http.Request{comparison, course, prediction, plan, race, launch, brief} {
			if w := h.serve(r); w.Code == http.StatusOK { // a problem names its request
				digest.Write(w.Body.Bytes())
				answered++
			}
		}
		for _, picture := range pictures(h.serve(course).Body.Bytes()) {
			if w := h.serve(picture); w.Code == http.StatusOK {
				digest.Write(w.Body.Bytes())
			}
		}
	}
	for _, x := range calls(t)["fitRider"].exchanges {
		if x.Status == http.StatusOK {
			digest.Write(h.serve(request(http.MethodPost, "/v1/riders/fit", "application/json", []byte(x.Body))).Body.Bytes())
		}
	}
	if answered < 2*len(files) {
		t.Errorf("%d of %d requests were answered", answered, 7*len(files))
	}
	return hex.EncodeToString(digest.Sum(nil))
}

// pictures asks for the profile and the map of an answered course.
func pictures(answer []byte) []*http.Request {
	var course struct {
		CourseID string `json:"course_id"`
	}
	if json.Unmarshal(answer, &course) != nil {
		return nil
	}
	profile := request(http.MethodGet, "/v1/courses/"+course.CourseID+"/profile", "", nil)
	overview := request(http.MethodGet, "/v1/courses/"+course.CourseID+"/profile?focus=map&width=600&theme=dark", "", nil)
	overview.Header.Set("Accept", "image/png")
	return []*http.Request{profile, overview}
}

// post makes a request of a JSON body.
func post(t *testing.T, target string, body any) *http.Request {
	t.Helper()
	raw, err := json.Marshal(body)
	if err != nil {
		t.Fatal(err)
	}
	return request(http.MethodPost, target, "application/json", raw)
}
