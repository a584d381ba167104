package api

import (
	"errors"
	"math"
	"net/http"
	"strings"

	"parcours.example/analysis/brief"
	"parcours.example/analysis/itinerary"
	"parcours.example/analysis/wording"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// csvMediaType is that of an itinerary alone.
const csvMediaType = "text/csv"

// asTable asks for an itinerary alone, which no limit shortens.
func asTable(asked *engine.BriefRequest, request BriefRequest) error {
	if asked.Itinerary == nil {
		asked.Itinerary = unstatedItinerary()
	}
	if request.Questions != nil {
		return invalidField("#/questions", "not-allowed", "a table as text/csv is the itinerary alone; leave questions out")
	}
	if asked.MaxChars == 0 {
		return nil
	}
	fault := Fault{Code: "not-allowed", Detail: "a table as text/csv is whole; leave max_chars out", Parameter: optional("max_chars")}
	if request.MaxChars != nil {
		fault.Parameter, fault.Pointer = nil, optional("#/max_chars")
	}
	return &problem{kind: kindInvalidRequest, detail: "The request doesn't fit the contract; see errors.", faults: []Fault{fault}}
}

// itineraryBy returns the itinerary that a query asks for; nil for none.
func itineraryBy(params BriefParams) *ItineraryRequest {
	if params.Itinerary == nil && params.SpeedMps == nil && params.StartClock == nil && params.NeutralM == nil && params.NeutralS == nil {
		return nil
	}
	return &ItineraryRequest{
		SpeedsMps: params.SpeedMps, StartClock: params.StartClock, NeutralM: params.NeutralM, NeutralS: params.NeutralS,
	}
}

// decodeItinerary turns what is asked of an itinerary into the engine's.
func decodeItinerary(asked *ItineraryRequest) (*engine.Itinerary, error) {
	if asked == nil {
		return nil, nil
	}
	out := unstatedItinerary()
	out.SpeedsMps = valueOr(asked.SpeedsMps, nil)
	out.Neutral = itinerary.Neutral{EndM: valueOr(asked.NeutralM, 0), TimeS: valueOr(asked.NeutralS, 0)}
	if asked.StartClock == nil {
		return out, nil
	}
	var err error
	out.StartS, err = engine.ParseTimeOfDay(*asked.StartClock)
	return out, err
}

// unstatedItinerary is an itinerary of which nothing is said.
func unstatedItinerary() *engine.Itinerary { return &engine.Itinerary{StartS: math.NaN()} }

// placedIn names the query parameter in the place of the pointer into an itinerary, where
// the request says it in the query.
func placedIn(r *http.Request, err error) error {
	asked, ok := errors.AsType[*engine.Error](err)
	if !ok || mediaType(r) == jsonMediaType || !strings.HasPrefix(asked.Pointer, "#/itinerary") {
		return err
	}
	placed := *asked
	placed.Pointer, placed.Parameter = "", "itinerary"
	if field, found := strings.CutPrefix(asked.Pointer, "#/itinerary/"); found {
		placed.Parameter = field
	}
	return &placed
}

// encodeItinerary writes an itinerary as the contract has it; nil for none.
func encodeItinerary(b *engine.Brief) *Itinerary {
	t := b.Itinerary
	if t == nil {
		return nil
	}
	out := &Itinerary{
		LengthM: metres(t.LengthM), NeutralM: metres(t.Neutral.EndM), NeutralS: metres(t.Neutral.TimeS),
		Columns: eachIndex(t.Columns, func(k int, c itinerary.Column) ItineraryColumn {
			return ItineraryColumn{SpeedMps: finite(c.SpeedMps, decimalsRatio), Rider: optional(c.Rider), Setup: optional(c.Setup), Text: t.Heads[k]}
		}),
		Rows: eachIndex(t.Rows, func(i int, r itinerary.Row) ItineraryRow { return encodeRow(b, i, r) }),
		Notes: each(t.Notes, func(n brief.ItineraryNote) ItineraryNote {
			return ItineraryNote{Code: n.Code, Detail: n.Text, AtM: finite(n.AtM, decimalsM)}
		}),
	}
	if !math.IsNaN(t.StartS) {
		out.StartClock = optional(wording.TimeOfDay(t.StartS))
	}
	return out
}

// encodeRow writes the i-th row of an itinerary.
func encodeRow(b *engine.Brief, i int, r itinerary.Row) ItineraryRow {
	t, line := b.Itinerary, b.Itinerary.Lines[i]
	out := ItineraryRow{
		AtM: metres(r.AtM), ToFinishM: metres(r.ToFinishM), ElevationM: finite(r.ElevationM, decimalsM), Lap: optional(r.Lap),
		CoveredText: line.Covered, ToGoText: line.ToGo, ElevationText: optional(line.Elevation), ClockTexts: line.Clocks,
		Things: eachIndex(r.Things, func(k int, thing itinerary.Thing) ItineraryThing { return encodeThing(b.Course, thing, line.Things[k]) }),
	}
	for _, c := range t.Columns {
		out.ClocksS = append(out.ClocksS, metres(c.ClocksS[i]))
	}
	return out
}

// encodeThing writes what is on a row.
func encodeThing(c *engine.Course, t itinerary.Thing, text string) ItineraryThing {
	out := ItineraryThing{Kind: ItineraryKind(t.Kind), Lap: optional(t.Lap), Pass: optional(t.Pass), Text: text}
	switch t.Kind {
	case itinerary.Foot, itinerary.Top, itinerary.SteepStart, itinerary.SteepEnd:
		climb := c.Terrain.Climbs[t.Index]
		out.ClimbID, out.Name = optional(climb.ID), optional(climb.Name)
	case itinerary.Sprint, itinerary.Summit, itinerary.Gate, itinerary.Feed, itinerary.Other:
		mark := c.Terrain.Marks[t.Index]
		out.MarkID, out.Name = optional(mark.ID), optional(mark.Name)
	}
	return out
}
