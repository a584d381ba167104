package engine

import (
	"bytes"
	"encoding/gob"
	"fmt"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
)

// sharedCourse is a course as other replicas get it.
type sharedCourse struct {
	ID       string
	Options  CourseOptions
	Assembly []AssembledPart
	Course   *course.Course
	Terrain  *terrain.Terrain
}

// encodeShared writes a course for replicas of the same engine version.
func encodeShared(c *Course) ([]byte, error) {
	var b bytes.Buffer
	err := gob.NewEncoder(&b).Encode(sharedCourse{c.ID, c.Options, c.Assembly, c.Course, c.Terrain})
	return b.Bytes(), err
}

// decodeShared undoes encodeShared. It fails on what is not the course of an id.
func decodeShared(id string, data []byte) (*Course, error) {
	var s sharedCourse
	if err := gob.NewDecoder(bytes.NewReader(data)).Decode(&s); err != nil {
		return nil, fmt.Errorf("engine: shared course: %w", err)
	}
	if s.ID != id || s.Course == nil || s.Terrain == nil {
		return nil, fmt.Errorf("engine: the shared value of course %s is another's", id)
	}
	return &Course{ID: s.ID, Options: s.Options, Assembly: s.Assembly, Course: s.Course, Terrain: s.Terrain}, nil
}
