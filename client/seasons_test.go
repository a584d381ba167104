package client_test

import (
	"errors"
	"io"
	"io/fs"
	"slices"
	"strings"
	"testing"

	"parcours.example/api/contract"
	"parcours.example/client"
	"parcours.example/client/clienttest"
)

// seasonReply is a stream of lines.
func seasonReply(lines ...string) clienttest.Reply {
	return clienttest.Reply{Header: map[string]string{"Content-Type": "application/x-ndjson"}, Body: []byte(strings.Join(lines, "\n") + "\n")}
}

const emptyEnd = `{"end":{"answered":0,"failed":0,"comparison":{"engine_version":"5","rounds":[],"riders":[],"cautions":[],"model":[]}}}`

// filesOf gives files of some contents; one without any can't be opened.
func filesOf(contents ...string) func(yield func(client.SeasonFile) bool) {
	return func(yield func(client.SeasonFile) bool) {
		for i, content := range contents {
			open := func() (io.ReadCloser, error) {
				if content == "" {
					return nil, fs.ErrNotExist
				}
				return io.NopCloser(strings.NewReader(content)), nil
			}
			if !yield(client.SeasonFile{RoundID: "weeks/" + string(rune('a'+i)) + ".csv", Open: open}) {
				return
			}
		}
	}
}

const dyke = "distance_m,elevation_m\n0,4\n2500,9\n5000,4\n"

// Rounds keep the names that they were sent under, folders and all, and any file's fault is its
// item's; a file that can't be opened is the season's.
func TestSeasonOfFiles(t *testing.T) {
	c := of(t, started(t).URL)
	var got []string
	for line, err := range c.SeasonOfFiles(t.Context(), &contract.SeasonRequest{}, filesOf(dyke, "just words", dyke)) {
		switch {
		case err != nil:
			t.Fatal(err)
		case line.Item != nil && line.Item.Problem != nil:
			got = append(got, *line.Item.RoundID+" fails")
		case line.Item != nil:
			got = append(got, *line.Item.RoundID)
		case line.End != nil:
			got = append(got, "end")
		}
	}
	if want := []string{"weeks/a.csv", "weeks/b.csv fails", "weeks/c.csv", "end"}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	var last error
	for line, err := range c.SeasonOfFiles(t.Context(), &contract.SeasonRequest{}, filesOf(dyke, "", dyke)) {
		if last = err; line != nil && line.End != nil {
			t.Error("an end, without a file")
		}
	}
	if !errors.Is(last, fs.ErrNotExist) || !strings.Contains(last.Error(), "weeks/b.csv") {
		t.Errorf("%v", last)
	}
	both := &contract.SeasonRequest{Rounds: []contract.SeasonCourse{{}}}
	for _, err := range c.SeasonOfFiles(t.Context(), both, filesOf(dyke)) {
		if err == nil {
			t.Error("rounds beside files are taken")
		}
	}
}

// Whoever leaves the loop ends the season, and goes through no more files.
func TestLeavingASeasonOfFiles(t *testing.T) {
	c := of(t, started(t).URL)
	opened := 0
	files := func(yield func(client.SeasonFile) bool) {
		for opened = range 10_000 {
			open := func() (io.ReadCloser, error) { return io.NopCloser(strings.NewReader(dyke)), nil }
			if !yield(client.SeasonFile{RoundID: "dyke.csv", Open: open}) {
				return
			}
		}
	}
	for range c.SeasonOfFiles(t.Context(), &contract.SeasonRequest{}, files) {
		break
	}
	if opened == 9999 {
		t.Error("all files were gone through")
	}
}

// A course that left the service's memory is made again, and the season goes on as if it hadn't.
func TestSeasonsSendCoursesAgain(t *testing.T) {
	course := clienttest.JSON(contract.Course{CourseID: strings.Repeat("a", 32)})
	course.Foreign = true // a course in short
	s := clienttest.New(t,
		course,
		seasonReply(`{"item":{"index":0,"problem":{"type":"/problems/course-not-cached","title":"x","status":404}}}`, emptyEnd),
		course,
		seasonReply(`{"item":{"index":0,"round_id":"again"}}`, emptyEnd),
	)
	c := of(t, s.URL)
	made, err := c.AnalyseCourse(t.Context(), client.File{Content: strings.NewReader(dyke)}, nil)
	if err != nil {
		t.Fatal(err)
	}
	var items []contract.SeasonItem
	for line, err := range c.SeasonLines(t.Context(), &contract.SeasonRequest{Rounds: []contract.SeasonCourse{{Course: client.CourseByID(made.CourseID)}}}) {
		if err != nil {
			t.Fatal(err)
		}
		if line.Item != nil {
			items = append(items, *line.Item)
		}
	}
	if len(items) != 1 || items[0].Problem != nil || len(s.Requests()) != 4 {
		t.Errorf("%+v after %d requests", items, len(s.Requests()))
	}
}

// A stream without its end is no season.
func TestSeasonsAreWhole(t *testing.T) {
	s := clienttest.New(t, seasonReply(`{"item":{"index":0}}`))
	var last error
	for _, err := range of(t, s.URL).SeasonLines(t.Context(), &contract.SeasonRequest{Rounds: []contract.SeasonCourse{{Course: client.CourseOfProfile([]float64{0, 9}, nil, nil)}}}) {
		last = err
	}
	if !errors.Is(last, client.ErrReply) {
		t.Errorf("%v", last)
	}
}
