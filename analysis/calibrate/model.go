package calibrate

import (
	"context"
	"math"

	"parcours.example/analysis/ride"
)

// model is the equations of all sessions.
type model struct {
	grounds   []*ground
	equations []equation
	opt       Options
	known     ride.Uncertainties
	// crrHeld says that Crr is assumed, settled that nothing is sought at all.
	crrHeld, settled bool
	// typical is a state before anything is learned, meanPowerW the rider's while pedalling.
	typical     state
	meanPowerW  float64
	excluded    []Exclusion
	assumptions []ride.Assumption
}

// state is a value for everything that may be sought.
type state struct {
	cda, crr, scale, offset float64
	// winds are those added to the sessions' own, at 10 m from the north and the east, or
	// the headwind at rider height as the first.
	winds [][2]float64
}

func (s state) clone() state {
	s.winds = append([][2]float64(nil), s.winds...)
	return s
}

// fewestSpare is how many equations there must be beside those that the sought values need.
const fewestSpare = 6

// newModel writes the sessions' equations.
func newModel(ctx context.Context, sessions []Session, opt Options) (*model, error) {
	if len(sessions) == 0 {
		return nil, failed(-1, CodeNoSessions, "there is no ride to learn from")
	}
	m := &model{opt: opt}
	usableM := 0.0
	for i := range sessions {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		g, used, err := newGround(sessions, i)
		if err != nil {
			return nil, err
		}
		if i == 0 {
			m.assumptions = used
		}
		m.grounds = append(m.grounds, g)
		usableM += g.usableM()
	}
	lengthM := max(evenM, usableM/mostStretches)
	for i, g := range m.grounds {
		for _, s := range g.spans(lengthM) {
			q := g.equation(i, s)
			q.start, q.end = g.end(i, s.first-1), g.end(i, s.last)
			m.equations = append(m.equations, q)
		}
		m.excluded = g.exclude(m.excluded)
	}
	if need := 2 + fewestSpare; len(m.equations) < need {
		return nil, failed(-1, CodeTooLittle, "only %d stretches of road, of %.1f km in all, can be used; at least %d of %.0f m are needed", len(m.equations), usableM/1000, need, evenM)
	}
	m.complete(sessions)
	return m, nil
}

// complete fills in what is uncertain and what is typical.
func (m *model) complete(sessions []Session) {
	s, g := &sessions[0], m.grounds[0]
	var used []ride.Assumption
	known := m.opt.Uncertainties
	given := known
	if math.IsNaN(known.CdAM2) {
		known.CdAM2 = 0
	}
	known, used = known.Completed(g.road, false)
	untold := math.IsNaN(s.Conditions.WindMps) && math.IsNaN(s.Conditions.HeadwindMps) && !s.Conditions.Indoor
	if untold && math.IsNaN(given.WindMps) {
		known.WindMps = untoldWindMps
		if !s.Course.HasPositions() {
			known.WindMps = ride.WindAtRider(untoldWindMps, openGrassM)
		}
		for i := range used {
			if used[i].Name == "wind_mps" {
				used[i].Value, used[i].Source = known.WindMps, "common practice: nothing is said about the wind"
			}
		}
	}
	if !math.IsNaN(s.Conditions.AirDensityKgM3) && math.IsNaN(given.TemperatureC) {
		known.TemperatureC = 0
	}
	m.known = known
	m.assumptions = append(m.assumptions, used...)
	m.typical = state{
		cda: ride.EstimateDragArea(ride.TypicalHeightM, s.Rider.MassKg), crr: g.bike.Crr, scale: 1,
		winds: make([][2]float64, len(m.grounds)),
	}
	workJ, seconds := 0.0, 0.0
	for i := range m.equations {
		workJ += m.equations[i].workJ
		seconds += m.equations[i].pedallingS
	}
	m.meanPowerW = workJ / max(seconds, 1)
}

// untoldWindMps is the standard deviation of each component of a wind at 10 m that
// nothing is said about.
const untoldWindMps = 1.5

// airs are the works of the air on each equation in a state's winds.
func (m *model) airs(s *state) []airWork { return m.airsBy(s, manner{1, 1}) }

// airsBy are those of stretches ridden otherwise.
func (m *model) airsBy(s *state, how manner) []airWork {
	airs := make([]airWork, len(m.equations))
	for i := range m.equations {
		q := &m.equations[i]
		w := s.winds[q.session]
		airs[i] = m.grounds[q.session].air(q, how, w[0], w[1])
	}
	return airs
}

// wheelsM2 is the drag area that a session's wheels add.
func (g *ground) wheelsM2() float64 {
	if g.road.Conditions.Shelter == 0 {
		return 0
	}
	return g.bike.DragAreaM2/g.road.Conditions.Shelter - g.bike.CdAM2
}

// residuals are the energies in J that each equation leaves over.
func (m *model) residuals(s *state, airs []airWork) []float64 {
	out := make([]float64, len(m.equations))
	for i := range m.equations {
		q := &m.equations[i]
		g := m.grounds[q.session]
		wheel := float64(g.bike.Efficiency * (float64(s.scale*q.workJ) + float64(s.offset*q.pedallingS)))
		out[i] = wheel - q.kineticJ - q.potentialJ - q.bearingsJ -
			float64((s.cda+g.wheelsM2())*airs[i].j) - float64(s.crr*q.rollingJ)
	}
	return out
}

// quantity is something whose value the equations depend on.
type quantity struct {
	of SourceOf
	// session is that of a wind, component 0 or 1 its component.
	session, component int
	// sd is how far it is known, in its unit, +Inf for not at all.
	sd float64
}

// The quantities that are sought and no source by themselves.
const (
	soughtDrag   SourceOf = "cda"
	soughtOffset SourceOf = "offset"
)

// sought are the quantities that are sought; what is known exactly is not. The drag area
// is the first, Crr the second unless it is held.
func (m *model) sought() []quantity {
	if m.settled {
		return nil
	}
	out := []quantity{{of: soughtDrag, sd: math.Inf(1)}}
	if !m.crrHeld {
		out = append(out, quantity{of: FromCrr, sd: math.Inf(1)})
	}
	if m.opt.Wind {
		out = append(out, m.winds()...)
	}
	if m.opt.PowerScale && m.known.PowerPct > 0 {
		out = append(out, quantity{of: FromPower, sd: m.known.PowerPct / 100})
	}
	if m.opt.PowerOffset && m.known.PowerPct > 0 {
		out = append(out, quantity{of: soughtOffset, sd: m.known.PowerPct / 100 * m.meanPowerW})
	}
	return out
}

// doubted are the quantities that are not sought but not known exactly either.
func (m *model) doubted() []quantity {
	out := []quantity{{of: FromMass, sd: m.known.MassKg}, {of: FromTemperature, sd: m.known.TemperatureC}, {of: FromEfficiency, sd: m.known.Efficiency}}
	if m.crrHeld {
		out = append(out, quantity{of: FromCrr, sd: m.known.Crr})
	}
	if !m.opt.PowerScale {
		out = append(out, quantity{of: FromPower, sd: m.known.PowerPct / 100})
	}
	if !m.opt.Wind {
		out = append(out, m.winds()...)
	}
	return out
}

// winds are the components of the sessions' winds.
func (m *model) winds() []quantity {
	var out []quantity
	for i, g := range m.grounds {
		if g.road.Conditions.Indoor || !(m.known.WindMps > 0) {
			continue
		}
		out = append(out, quantity{of: FromWind, session: i, sd: m.known.WindMps})
		if g.compass.sin != nil {
			out = append(out, quantity{of: FromWind, session: i, component: 1, sd: m.known.WindMps})
		}
	}
	return out
}

// column is how the residuals fall as a quantity rises, in J per unit.
func (m *model) column(q quantity, s *state, airs []airWork) []float64 {
	out := make([]float64, len(m.equations))
	for i := range m.equations {
		out[i] = m.derivative(q, s, i, airs[i])
	}
	return out
}

// perKelvin is how the density of air changes with its temperature, as a share, at 15 °C.
const perKelvin = -1 / 288.15

func (m *model) derivative(of quantity, s *state, i int, air airWork) float64 {
	q := &m.equations[i]
	g := m.grounds[q.session]
	switch of.of {
	case soughtDrag:
		return air.j
	case FromCrr:
		return q.rollingJ
	case FromWind:
		if of.session != q.session {
			return 0
		}
		per := air.perNorth
		if of.component == 1 {
			per = air.perEast
		}
		return (s.cda + g.wheelsM2()) * per
	case FromPower:
		return -g.bike.Efficiency * q.workJ
	case soughtOffset:
		return -g.bike.Efficiency * q.pedallingS
	case FromMass:
		perKg := float64(s.crr*q.rollingJ) + q.potentialJ
		return perKg/g.bike.MassKg + q.kineticJ/g.bike.InertiaKg
	case FromTemperature:
		return (s.cda + g.wheelsM2()) * air.j * perKelvin
	case FromEfficiency:
		return -q.workJ
	}
	return 0
}

// moved returns the state with the sought quantities changed.
func (s state) moved(sought []quantity, by []float64) state {
	s = s.clone()
	for k, q := range sought {
		switch q.of {
		case soughtDrag:
			s.cda += by[k]
		case FromCrr:
			s.crr += by[k]
		case FromWind:
			s.winds[q.session][q.component] += by[k]
		case FromPower:
			s.scale += by[k]
		case soughtOffset:
			s.offset += by[k]
		}
	}
	return s
}

// away is how far a sought quantity is from what was known of it.
func (s *state) away(q quantity) float64 {
	switch q.of {
	case FromWind:
		return s.winds[q.session][q.component]
	case FromPower:
		return s.scale - 1
	case soughtOffset:
		return s.offset
	}
	return 0
}
