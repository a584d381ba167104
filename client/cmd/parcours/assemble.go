package main

import (
	"fmt"
	"strings"

	"parcours.example/api/contract"
	"parcours.example/client"
	"parcours.example/internal/shortform"
)

var partForm = shortform.Form{Thing: "part", Example: "file=lap.gpx,repeat=5"}

// assembleCommand makes one course of several files.
type assembleCommand struct {
	Part []string `arg:"" name:"part" sep:"none" help:"The parts in their order: a file's name, or comma-separated key=value of file (or id), from_m, to_m, repeat and reverse, like file=lap.gpx,repeat=5."`

	Name  string `group:"course" help:"The course's name."`
	Table string `group:"look" enum:"courses,parts,climbs,sections,steepest,descents,marks,bends,gradients,warnings," default:"" placeholder:"NAME" help:"The table to print, as analyse has them."`

	pictureFlags `embed:""`
}

// Run asks and prints.
func (c *assembleCommand) Run(s *session) error {
	if err := c.check(); err != nil {
		return err
	}
	request := &contract.AssemblyRequest{Name: given(c.Name)}
	for i, short := range c.Part {
		part, err := s.part(short)
		if err != nil {
			return err
		}
		s.files.put("part "+fmt.Sprint(i+1), "/parts/%d", i)
		request.Parts = append(request.Parts, part)
	}
	service, err := s.ask()
	if err != nil {
		return err
	}
	course, err := service.AssembleCourse(s.ctx, request)
	if err != nil {
		return err
	}
	if s.look.JSON {
		err = s.raw()
	} else {
		asked := analyseCommand{}
		if c.Table != "" {
			asked.Table = []string{c.Table}
		}
		err = asked.print(s, []*contract.Course{course})
	}
	if err == nil && c.Picture != "" {
		err = c.drawCourse(s, course.CourseID, "")
	}
	return err
}

// part reads a part and has its file analysed.
func (s *session) part(short string) (contract.AssemblyPart, error) {
	if !strings.Contains(short, "=") {
		short = "file=" + short
	}
	var read struct {
		File string `json:"file"`
		ID   string `json:"id"`
		contract.AssemblyPart
	}
	if err := readShort(partForm, short, &read); err != nil {
		return contract.AssemblyPart{}, usageError{err}
	}
	part := read.AssemblyPart
	switch {
	case (read.File == "") == (read.ID == ""):
		return part, usageError{partForm.Fault("a part is a file or an id")}
	case read.ID != "":
		part.Course = client.CourseByID(read.ID)
		return part, nil
	}
	course, err := s.analyse(read.File, nil)
	if err != nil {
		return part, err
	}
	part.Course = client.CourseByID(course.CourseID)
	return part, nil
}
