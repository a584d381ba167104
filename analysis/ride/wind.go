package ride

import (
	"math"

	"parcours.example/analysis/elementary"
)

const (
	// forecastHeightM is the height that a wind speed is given for (WMO No. 8).
	forecastHeightM = 10.0
	// riderHeightM is the height at which it meets a rider.
	riderHeightM = 1.0
)

// WindAtRider returns the wind speed 1.0 m above ground of a roughness length in
// metres, from the speed at 10 m, by the neutral logarithmic law
// U(z) = U(10)·ln(z/z₀)/ln(10/z₀). Ground as rough as the rider is high leaves no
// wind.
func WindAtRider(windMps, roughnessM float64) float64 {
	if roughnessM >= riderHeightM {
		return 0
	}
	return windMps * elementary.Log(riderHeightM/roughnessM) / elementary.Log(forecastHeightM/roughnessM)
}

// wind is the wind at rider height over a course.
type wind struct {
	// mps comes from fromDeg; ahead is a wind against the rider on every piece.
	mps, fromDeg, ahead float64
}

// on returns the wind against the rider and across, in m/s, for a direction of travel
// in degrees: v·cos and v·sin of the angle between where the wind comes from and where
// the rider goes (Martin et al. 1998).
func (w wind) on(headingDeg float64) (headwind, crosswind float64) {
	if w.mps == 0 {
		return w.ahead, 0
	}
	sin, cos := elementary.Sincos((w.fromDeg - headingDeg) * math.Pi / 180)
	return w.ahead + float64(w.mps*cos), w.mps * sin
}

// newWind reads the completed conditions.
func newWind(c Conditions, hasPositions bool) (wind, error) {
	switch {
	case c.Indoor:
		return wind{}, nil
	case !hasPositions && (!math.IsNaN(c.WindFromDeg) || c.WindMps > 0):
		return wind{}, &Error{
			Code: CodeWindNeedsPositions, AtM: math.NaN(),
			Detail: "the course has no positions, so a wind from a compass direction can't be laid on it; give headwind_mps",
		}
	case c.WindMps > 0 && math.IsNaN(c.WindFromDeg):
		return wind{}, &Error{Code: CodeWindNeedsDirection, AtM: math.NaN(), Detail: "the wind has no direction; give wind_from_deg"}
	}
	w := wind{ahead: c.HeadwindMps}
	if c.WindMps > 0 {
		w.mps, w.fromDeg = WindAtRider(c.WindMps, c.RoughnessM), c.WindFromDeg
	}
	return w, nil
}
