package main

import (
	"errors"
	"fmt"
	"io"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// briefCommand prints the write-up of a course.
type briefCommand struct {
	courseFlags    `embed:""`
	riderFlags     `embed:""`
	setupFlags     `embed:""`
	conditionFlags `embed:""`
	effortFlags    `embed:""`
	requestFlags   `embed:""`

	MaxChars int  `group:"look" placeholder:"N" help:"The most characters that the text may have."`
	Markdown bool `group:"look" xor:"form" help:"Print Markdown in the place of plain text. With --csv the itinerary alone is printed."`

	Itinerary  bool      `group:"look" help:"Add an itinerary: every line, climb and mark on every pass, and when it is passed. The flags that follow ask for it as well."`
	Speed      []float64 `group:"look" placeholder:"KM/H" help:"Average speeds of the itinerary, 1 to 3 of them, in km/h or, with imperial units, mph. Left out, the riders' predictions, else three that suit the course."`
	StartClock string    `group:"look" placeholder:"HH:MM" help:"The time of day at which the itinerary's clocks start, also with seconds. Left out, elapsed times."`
	NeutralM   *float64  `group:"look" placeholder:"M" help:"Where a stretch that is ridden together before the race is on ends, in metres along the course; 0 where it lies before it."`
	NeutralS   *float64  `group:"look" placeholder:"S" help:"How long that stretch takes, in seconds."`
}

// jsonForm asks for a brief with its facts.
const jsonForm client.BriefForm = "application/json"

// form is what is asked of the service.
func (c *briefCommand) form(s *session) client.BriefForm {
	switch {
	case s.look.JSON:
		return jsonForm
	case s.look.CSV:
		return client.Table
	case c.Markdown:
		return client.Markdown
	}
	return client.PlainText
}

// Run asks and prints. The words are the service's own.
func (c *briefCommand) Run(s *session) error {
	request, err := c.ask(s)
	if err != nil {
		return err
	}
	service, err := s.ask()
	if err != nil {
		return err
	}
	if request.Course, err = c.reference(s, request.Course); err != nil {
		return err
	}
	written, err := service.BriefText(s.ctx, c.form(s), request)
	if err != nil {
		return err
	}
	if s.look.JSON {
		return s.raw()
	}
	_, err = io.WriteString(s.std.out, written)
	return err
}

// ask makes the request.
func (c *briefCommand) ask(s *session) (*contract.BriefRequest, error) {
	request := &contract.BriefRequest{}
	if err := c.load(s, request); err != nil {
		return nil, err
	}
	riders, bests, err := c.riderFlags.list(s)
	if err != nil {
		return nil, err
	}
	setups, err := c.setupFlags.list(s)
	if err != nil {
		return nil, err
	}
	put(&request.Riders, listOf(riders))
	put(&request.Setups, listOf(setups))
	c.conditionFlags.set(&request.Conditions)
	s.placeFlags()
	effort, err := c.effort(s, bests)
	if err != nil {
		return nil, err
	}
	put(&request.Effort, effort)
	put(&request.MaxChars, given(c.MaxChars))
	put(&request.Units, given(contract.Units(s.units.name())))
	s.files.put("--max-chars", "/max_chars")
	return request, c.askItinerary(s, request)
}

// askItinerary asks for an itinerary, if one is wanted.
func (c *briefCommand) askItinerary(s *session, request *contract.BriefRequest) error {
	if !c.Itinerary && len(c.Speed) == 0 && c.StartClock == "" && c.NeutralM == nil && c.NeutralS == nil {
		return nil
	}
	if s.look.CSV && c.MaxChars != 0 {
		return usageError{errors.New("--max-chars: a table is whole")}
	}
	speeds := make([]float64, len(c.Speed))
	for i, v := range c.Speed {
		speeds[i] = v * s.units.longM() / 3600
		s.files.put(fmt.Sprintf("--speed %s", number(v, 3)), "/itinerary/speeds_mps/%d", i)
	}
	s.files.put("--start-clock", "/itinerary/start_clock")
	s.files.put("--neutral-m", "/itinerary/neutral_m")
	s.files.put("--neutral-s", "/itinerary/neutral_s")
	request.Itinerary = &contract.ItineraryRequest{
		SpeedsMps: listOf(speeds), StartClock: given(c.StartClock), NeutralM: c.NeutralM, NeutralS: c.NeutralS,
	}
	return nil
}
