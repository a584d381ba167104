package api

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/gin-gonic/gin"

	"parcours.example/analysis/calibrate"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// Calibrate implements POST /v1/calibrations. What it answers is kept nowhere.
func (s *server) Calibrate(c *gin.Context, params CalibrateParams) {
	look := pictureParams{params.Width, params.Height, params.Theme, params.Units}
	mediaType, err := pictureInstead(c.GetHeader("Accept"), look, params.Include != nil)
	if err != nil {
		s.fail(c, err)
		return
	}
	include := valueOr(params.Include, nil)
	trace, positions := slices.Contains(include, "trace"), slices.Contains(include, "positions")
	if positions && !trace {
		writeProblem(c, &problem{
			kind: kindInvalidRequest, detail: "The query doesn't fit the contract; see errors.",
			faults: []Fault{{Parameter: optional("include"), Code: "missing", Detail: "positions are told in traces; ask for include=trace,positions"}},
		})
		return
	}
	var request CalibrationRequest
	if err := decodeJSON(requestBody(c), &request); err != nil {
		s.fail(c, err)
		return
	}
	s.answerUnkept(c, func(ctx context.Context) (result, error) {
		asked, err := decodeCalibration(&request)
		if err != nil {
			return result{}, err
		}
		key := "calibration/" + c.GetString(requestKeyName)
		if mediaType != jsonMediaType {
			drawn, err := s.engine.CalibrationPicture(ctx, asked, look.look(mediaType))
			if err != nil {
				return result{}, err
			}
			return result{mediaType: mediaType, body: drawn.Bytes, key: key}, nil
		}
		asked.Traces = trace
		found, err := s.engine.Calibrate(ctx, asked)
		if err != nil {
			return result{}, err
		}
		return jsonResult(ctx, encodeCalibration(found, trace, positions), key)
	})
}

// answerUnkept replies with what work makes for this caller alone; neither the service nor
// what stands in between keeps it.
func (s *server) answerUnkept(c *gin.Context, work func(context.Context) (result, error)) {
	r, err := work(c.Request.Context())
	if err != nil {
		s.fail(c, err)
		return
	}
	coding := codingOf(c, r.mediaType, len(r.body))
	replyHeader(c, entityTag(answerID(r.key, r.mediaType), coding), "no-store")
	body, err := compress(coding, r.body)
	if err != nil { // writing to memory doesn't fail
		s.fail(c, err)
		return
	}
	replyBody(c, r.mediaType, coding, body)
}

// decodeCalibration turns the contract's request into the engine's.
func decodeCalibration(r *CalibrationRequest) (engine.CalibrationRequest, error) {
	out := engine.CalibrationRequest{
		Surfaces: each(valueOr(r.Surfaces, nil), decodeSurface), Plans: valueOr(r.Plans, false),
		Seek: calibrate.Options{Uncertainties: decodeDoubt(r.Uncertainties, nil).Uncertainties},
	}
	for _, what := range valueOr(r.Seek, nil) {
		switch what {
		case Wind:
			out.Seek.Wind = true
		case PowerScale:
			out.Seek.PowerScale = true
		case PowerOffset:
			out.Seek.PowerOffset = true
		}
	}
	if r.Course != nil {
		source, err := decodeSource("#/course", *r.Course)
		if err != nil {
			return out, err
		}
		out.Course = &source
	}
	for i := range r.Rides {
		one, err := decodeRecordedRide(fmt.Sprintf("#/rides/%d", i), r, &r.Rides[i])
		if err != nil {
			return out, err
		}
		out.Rides = append(out.Rides, one)
	}
	return out, nil
}

// decodeRecordedRide reads a ride, which stands at a pointer, with what it leaves to the
// request.
func decodeRecordedRide(at string, request *CalibrationRequest, r *RecordedRide) (engine.RecordedRide, error) {
	out := engine.RecordedRide{
		ID: valueOr(r.RideID, ""), Rider: decodeRider(r.Rider), OwnSetup: r.Setup != nil, OwnConditions: r.Conditions != nil,
		TrimStartM: valueOr(r.TrimStartM, 0), TrimEndM: valueOr(r.TrimEndM, 0),
	}
	setup, conditions, effort, effortAt := r.Setup, r.Conditions, r.Effort, at+"/effort"
	if setup == nil {
		setup = request.Setup
	}
	if conditions == nil {
		conditions = request.Conditions
	}
	if effort == nil {
		effort, effortAt = request.Effort, "#/effort"
	}
	out.Setup, out.Conditions = decodeSetup(valueOr(setup, Setup{})), decodeConditions(conditions)
	var err error
	if effort != nil {
		if effort.Kind == Best {
			return out, invalidField(effortAt+"/kind", "not-allowed", `a ride is held against a power that was given; for the best plan ask for "plans"`)
		}
		if out.Effort, err = decodeEffort(effortAt, *effort); err != nil {
			return out, err
		}
	}
	switch {
	case (r.File == nil) == (r.Samples == nil):
		return out, invalidField(at, "exactly-one", "give exactly one of file and samples")
	case r.File != nil:
		out.File, err = decodeFile(at+"/file", r.File)
	default:
		out.Samples, err = decodeSamples(at+"/samples", r.Samples)
	}
	return out, err
}

// decodeSamples reads samples that stand at a pointer.
func decodeSamples(at string, s *RideSamples) ([]track.Sample, error) {
	n := len(s.TimeS)
	lists := []struct {
		name string
		list *[]float64
	}{
		{"latitude_deg", s.LatitudeDeg},
		{"longitude_deg", s.LongitudeDeg},
		{"distance_m", s.DistanceM},
		{"speed_mps", s.SpeedMps},
		{"elevation_m", s.ElevationM},
		{"power_w", s.PowerW},
	}
	for _, l := range lists {
		if l.list != nil && len(*l.list) != n {
			return nil, invalidField(at+"/"+l.name, "length-differs", fmt.Sprintf("there are %d values for %d times; give one for each", len(*l.list), n))
		}
	}
	if (s.LatitudeDeg == nil) != (s.LongitudeDeg == nil) {
		return nil, invalidField(at, "missing", "latitude_deg and longitude_deg go together")
	}
	if s.LatitudeDeg == nil && s.DistanceM == nil {
		return nil, invalidField(at, "missing", "give positions or distance_m; else nothing tells where the rider was")
	}
	of := func(list *[]float64, i int) float64 {
		if list == nil {
			return math.NaN()
		}
		return (*list)[i]
	}
	out := make([]track.Sample, n)
	for i, t := range s.TimeS {
		if i > 0 && !(t > s.TimeS[i-1]) {
			return nil, invalidField(fmt.Sprintf("%s/time_s/%d", at, i), "out-of-order", "times must increase")
		}
		out[i] = track.Sample{
			ClockS: t, DistanceM: of(s.DistanceM, i), SpeedMPS: of(s.SpeedMps, i), ElevationM: of(s.ElevationM, i),
			PowerW: of(s.PowerW, i), CadenceRPM: math.NaN(),
		}
		if s.LatitudeDeg != nil {
			out[i].Pos = geodesy.FromDegrees((*s.LatitudeDeg)[i], (*s.LongitudeDeg)[i])
		}
	}
	return out, nil
}
