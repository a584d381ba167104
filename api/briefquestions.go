package api

import (
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// decodeQuestions reads the race questions of a brief, each as its own call does.
func decodeQuestions(at string, p *BriefQuestions) (engine.Questions, error) {
	var out engine.Questions
	q := valueOr(p, BriefQuestions{})
	var err error
	if out.Comparisons, err = decodeOne(at+"/comparisons", q.Comparisons, decodeSetupQuestion); err != nil {
		return out, err
	}
	if q.Launches != nil {
		if out.Launches, err = decodeAll(at+"/launches/lines", &q.Launches.Lines, decodeLine); err != nil {
			return out, err
		}
	}
	if out.Aids, err = decodeOne(at+"/aids", q.Aids, decodeAidQuestion); err != nil {
		return out, err
	}
	out.Scenarios, err = decodeOne(at+"/scenarios", q.Scenarios, decodeBriefRace)
	return out, err
}

// decodeBriefRace is decodeRaceQuestion where riders that are left out are another thing than
// none: the brief's.
func decodeBriefRace(at string, q RaceQuestion) (engine.RaceQuestion, error) {
	out, err := decodeRaceQuestion(at, q)
	if q.Riders != nil && out.Riders == nil {
		out.Riders = []engine.Contender{}
	}
	return out, err
}

// decodeOne reads something that stands at a pointer; nil where it is left out.
func decodeOne[From, To any](at string, p *From, decode func(at string, from From) (To, error)) (*To, error) {
	if p == nil {
		return nil, nil //nolint:nilnil // left out
	}
	to, err := decode(at, *p)
	return &to, err
}
