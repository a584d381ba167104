package course

import (
	"bytes"
	"context"
	"encoding/gob"
	"errors"
	"fmt"

	"parcours.example/analysis/track"
)

// plain is a course without methods, so that gob takes its fields.
type plain Course

// wholeCourse is all that a course is made of beside what follows from it.
type wholeCourse struct {
	Course  *plain
	Turning []float64
	// Places are those of the marks, in their order.
	Places []track.Mark
	// Copies is of how many copies of its first lap the course was made, 0 for none.
	Copies int
}

// MarshalBinary writes a course so that another process of the same engine version reads the
// same course from it. It implements encoding.BinaryMarshaler and doesn't fail.
func (c *Course) MarshalBinary() ([]byte, error) {
	whole := wholeCourse{Course: (*plain)(c), Turning: c.turning}
	for _, m := range c.Marks {
		whole.Places = append(whole.Places, m.place)
	}
	if c.again != nil {
		whole.Copies = c.again.copies
	}
	var b bytes.Buffer
	err := gob.NewEncoder(&b).Encode(whole)
	return b.Bytes(), err
}

// UnmarshalBinary reads what MarshalBinary wrote. It fails on anything that is no course, and
// leaves c as it was.
func (c *Course) UnmarshalBinary(data []byte) error {
	var whole wholeCourse
	if err := gob.NewDecoder(bytes.NewReader(data)).Decode(&whole); err != nil {
		return fmt.Errorf("course: %w", err)
	}
	if err := whole.check(); err != nil {
		return err
	}
	read := (*Course)(whole.Course)
	read.turning = whole.Turning
	for i := range read.Marks {
		read.Marks[i].place = whole.Places[i]
	}
	if read.HasPositions() {
		var err error
		if read.again, err = newAgain(context.Background(), read, whole.Copies); err != nil { // it has no caller that can leave
			return err
		}
	}
	*c = *read
	return nil
}

// errForeign says that bytes are of another making.
var errForeign = errors.New("course: the bytes hold no course")

// check holds the lengths of the lists against each other: all else is what a course of this
// version wrote, or the digest beside it is wrong.
func (w *wholeCourse) check() error {
	if w.Course == nil || len(w.Course.S) < 2 {
		return errForeign
	}
	n := len(w.Course.S)
	for _, list := range []struct{ got, want int }{
		{len(w.Course.Z), n},
		{len(w.Course.Pos), n},
		{len(w.Course.Heading), n - 1},
		{len(w.Course.Curvature), n},
		{len(w.Turning), n - 1},
		{len(w.Course.AscentTo), n},
		{len(w.Course.DescentTo), n},
	} {
		if list.got != 0 && list.got != list.want {
			return errForeign
		}
	}
	if len(w.Places) != len(w.Course.Marks) || w.Copies < 0 || w.Copies >= n {
		return errForeign
	}
	return nil
}
