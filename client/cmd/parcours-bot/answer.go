package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"parcours.example/api/contract"
	"parcours.example/client"
	"parcours.example/client/cmd/parcours-bot/ask"
	"parcours.example/client/cmd/parcours-bot/when"
)

// reply is what the bot answers: a text, or a picture as PNG.
type reply struct {
	text    string
	picture []byte
	// unclear is of a question that wasn't understood, so that whoever asks the like without end
	// isn't answered without end.
	unclear bool
}

// teller answers questions about the season. It is safe for concurrent use.
type teller struct {
	settings *settings
	season   *season
}

const pictureWidth = 1200

// answer answers a question on a day.
func (t *teller) answer(ctx context.Context, q ask.Question, asked error, today when.Date) (reply, error) {
	switch q.Kind {
	case ask.Help:
		return reply{text: t.help()}, nil
	case ask.Rounds:
		return reply{text: t.rounds(today)}, nil
	}
	r, which := t.round(q, today)
	switch {
	case q.Kind == ask.Unclear:
		return reply{text: "I can't tell what you ask. " + t.help(), unclear: true}, nil
	case asked != nil:
		return reply{text: understood(q, t.settings.units) + sentences(asked), unclear: true}, nil
	case which != "":
		return reply{text: which, unclear: true}, nil
	}
	switch q.Kind {
	case ask.Brief:
		text, err := t.brief(ctx, r)
		return reply{text: text}, err
	case ask.Picture:
		png, err := t.picture(ctx, r)
		return reply{picture: png}, err
	}
	return t.howLong(ctx, r, q)
}

// sentences writes faults as sentences.
func sentences(err error) string {
	var all []string
	for line := range strings.SplitSeq(err.Error(), "\n") {
		all = append(all, strings.ToUpper(line[:1])+line[1:]+".")
	}
	return strings.Join(all, " ")
}

// understood tells what was read, before what couldn't be.
func understood(q ask.Question, units contract.Units) string {
	var read []string
	if q.MassKg != 0 {
		read = append(read, mass(q.MassKg, units))
	}
	if q.PowerW != 0 {
		read = append(read, number(q.PowerW, 0)+" W")
	}
	if q.WPerKg != 0 {
		read = append(read, number(q.WPerKg, 2)+" W/kg")
	}
	if q.HeightM != 0 {
		read = append(read, number(q.HeightM, 2)+" m tall")
	}
	if len(read) == 0 {
		return ""
	}
	return "I read " + strings.Join(read, ", ") + ". "
}

func (t *teller) help() string {
	return "Ask me, by my name in the room or in private:\n" +
		"- how long for 72 kg at 280 W? (also lb and W/kg; add a height, indoors, alone or sheltered, and which round)\n" +
		"- brief, or brief and a round's name or number\n" +
		"- picture, the same way\n" +
		"- rounds\n" +
		"Without a round I take the next one. Times come from a model; hard efforts are for healthy, trained people, on closed roads or indoors."
}

// mostListed is how many rounds are listed at most.
const mostListed = 30

func (t *teller) rounds(today when.Date) string {
	next := nextRound(t.settings.rounds, today)
	var b strings.Builder
	b.WriteString("Rounds:")
	for i, r := range t.settings.rounds {
		if i == mostListed {
			fmt.Fprintf(&b, "\nand %d more", len(t.settings.rounds)-i)
			break
		}
		fmt.Fprintf(&b, "\n%d. %s", i+1, r.name)
		if r.date != nil {
			b.WriteString(", " + r.date.String())
		}
		if next != nil && next.file == r.file && next.name == r.name {
			b.WriteString(" (next)")
		}
	}
	return b.String()
}

// round returns the round that a question is about, or says why it can't be told.
func (t *teller) round(q ask.Question, today when.Date) (*round, string) {
	rounds := t.settings.rounds
	named := strings.TrimSpace(strings.ReplaceAll(" "+q.Round+" ", " next ", " "))
	switch {
	case q.RoundNumber > len(rounds):
		return nil, fmt.Sprintf("There is no round %d: the last is %d, %s.", q.RoundNumber, len(rounds), rounds[len(rounds)-1].name)
	case q.RoundNumber > 0:
		return &rounds[q.RoundNumber-1], ""
	case named != "":
		found, err := findRound(rounds, named)
		if err != nil {
			return nil, "Which round? " + sentences(err)
		}
		if found == nil {
			return nil, "I know no round by the name I read. Ask for “rounds” to see their names."
		}
		return found, ""
	case len(rounds) == 1:
		return &rounds[0], ""
	}
	if next := nextRound(rounds, today); next != nil {
		return next, ""
	}
	return nil, "Which round? None is ahead by its date. Ask for “rounds” to see their names."
}

// brief writes a round's brief.
func (t *teller) brief(ctx context.Context, r *round) (string, error) {
	course, err := t.season.course(ctx, r)
	if err != nil {
		return "", err
	}
	request := &contract.BriefRequest{Course: client.CourseByID(course.CourseID), MaxChars: &t.settings.maxChars, Units: &t.settings.units}
	if t.settings.rider != nil {
		effort := contract.Effort{Kind: contract.OwnPower}
		request.Riders, request.Effort, request.Conditions = &[]contract.Rider{*t.settings.rider}, &effort, &contract.Conditions{Indoor: &t.settings.indoor}
		request.Setups = t.setups()
	}
	text, err := t.season.client.BriefText(ctx, client.PlainText, request)
	return strings.TrimSpace(text), err
}

func (t *teller) setups() *[]contract.Setup {
	if t.settings.setup == nil {
		return nil
	}
	return &[]contract.Setup{*t.settings.setup}
}

// picture draws a round's profile.
func (t *teller) picture(ctx context.Context, r *round) ([]byte, error) {
	course, err := t.season.course(ctx, r)
	if err != nil {
		return nil, err
	}
	width := pictureWidth
	return t.season.client.CoursePicture(ctx, course.CourseID, client.PNG, &contract.DrawCourseParams{Width: &width, Units: &t.settings.units})
}

// howLong predicts a rider's time.
func (t *teller) howLong(ctx context.Context, r *round, q ask.Question) (reply, error) {
	rider, missing := t.riderOf(q)
	if missing != "" {
		return reply{text: missing, unclear: true}, nil
	}
	course, err := t.season.course(ctx, r)
	if err != nil {
		return reply{}, err
	}
	conditions := t.conditions(q)
	found, err := t.season.client.Predict(ctx, &contract.PredictionRequest{
		Course: client.CourseByID(course.CourseID), Riders: []contract.Rider{rider}, Setups: t.setups(),
		Conditions: &conditions, Effort: contract.Effort{Kind: contract.OwnPower},
	})
	if err != nil {
		return reply{}, err
	}
	if len(found.Predictions) != 1 {
		return reply{}, client.ErrReply
	}
	p := found.Predictions[0]
	if p.Problem != nil {
		return reply{text: r.name + ": " + problemText(*p.Problem)}, nil
	}
	return reply{text: t.told(r, course, rider, conditions, found)}, nil
}

// riderOf makes the rider who is asked about, or says what is missing.
func (t *teller) riderOf(q ask.Question) (contract.Rider, string) {
	power := q.PowerW + q.WPerKg*q.MassKg
	given := q.MassKg != 0 || q.PowerW != 0 || q.WPerKg != 0
	switch {
	case !given && t.settings.rider != nil:
		rider := *t.settings.rider
		if q.HeightM != 0 {
			rider.HeightM = &q.HeightM
		}
		return rider, ""
	case !given:
		return contract.Rider{}, "For whom? Give a body mass and a power, like “how long for 72 kg at 280 W?”."
	case q.MassKg == 0:
		return contract.Rider{}, understood(q, t.settings.units) + "What does the rider weigh? Add the body mass in kg or lb."
	case power == 0:
		return contract.Rider{}, understood(q, t.settings.units) + "At what power? Add it in W or W/kg."
	}
	rider := contract.Rider{MassKg: q.MassKg, PowerW: &power}
	if q.HeightM != 0 {
		rider.HeightM = &q.HeightM
	}
	return rider, ""
}

func (t *teller) conditions(q ask.Question) contract.Conditions {
	indoor := (t.settings.indoor || q.Indoors) && !q.Outdoors
	c := contract.Conditions{Indoor: &indoor}
	if q.Sheltered {
		c.Shelter = &t.settings.shelteredDrag
	}
	return c
}

// told writes a prediction with what it assumes.
func (t *teller) told(r *round, course *contract.Course, rider contract.Rider, c contract.Conditions, found *contract.Predictions) string {
	p, units := found.Predictions[0], t.settings.units
	var b strings.Builder
	fmt.Fprintf(&b, "%s, %s", r.name, distance(found.DistanceM, units))
	if course.AscentM != nil {
		fmt.Fprintf(&b, ", climbing %s", height(*course.AscentM, units))
	}
	fmt.Fprintf(&b, ": %s for %s at %s W (%s W/kg)", clock(value(p.TimeS)), mass(rider.MassKg, units), number(value(rider.PowerW), 0), number(value(rider.PowerW)/rider.MassKg, 2))
	fmt.Fprintf(&b, ", %s on average.", speed(value(p.MeanSpeedMps), units))
	if p.TimeLowS != nil && p.TimeHighS != nil && p.Band != nil {
		fmt.Fprintf(&b, " Between %s and %s with a probability of %s %%, if mass, drag, tyres and power are off as usual.", clock(*p.TimeLowS), clock(*p.TimeHighS), number(p.Band.CoveragePct, 1))
	} else if p.TimeLowS != nil && p.Band != nil {
		fmt.Fprintf(&b, " From %s on; with a little bad luck the rider comes to a halt.", clock(*p.TimeLowS))
	}
	fmt.Fprintf(&b, " Assumed: %s.", t.assumed(p, c, found.Assumptions))
	if len(found.Cautions) > 0 {
		b.WriteString(" " + found.Cautions[0])
	}
	return b.String()
}

// assumed lists briefly what a prediction rests on.
func (t *teller) assumed(p contract.Prediction, c contract.Conditions, assumptions []contract.Assumption) string {
	all := []string{"the same power throughout"}
	switch {
	case *c.Indoor:
		all = append(all, "indoors")
	default:
		all = append(all, "calm air")
	}
	if c.Shelter != nil {
		all = append(all, fmt.Sprintf("sheltered all the way (%s %% of the drag alone)", number(*c.Shelter*100, 0)))
	} else {
		all = append(all, "alone")
	}
	for _, a := range assumptions {
		if a.Pointer == "#/riders/0/height_m" {
			all = append(all, number(a.Value, 2)+" m tall")
		}
	}
	if p.CdaM2 != nil {
		all = append(all, "drag area "+number(*p.CdaM2, 3)+" m²")
	}
	if p.MassKg != nil {
		all = append(all, mass(*p.MassKg, t.settings.units)+" in all")
	}
	return strings.Join(all, ", ")
}

func value(p *float64) float64 {
	if p == nil {
		return 0
	}
	return *p
}

// problemText says what the service can't compute, and why.
func problemText(p contract.Problem) string {
	if p.Detail != nil && *p.Detail != "" {
		return *p.Detail
	}
	return p.Title
}

// excuse is what is said where the answer is an error, and whether the service is away.
func excuse(err error) (text string, serviceAway bool) {
	if away(err) {
		return "I can't reach what computes for me. Ask again in a few minutes.", true
	}
	if p, ok := errors.AsType[*client.Problem](err); ok {
		return problemText(p.Problem), false
	}
	return "The course's file can't be read. Whoever runs me has been told.", false
}

// answerWait is the longest that an answer may take.
const answerWait = 2 * time.Minute
