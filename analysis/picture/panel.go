package picture

import (
	"math"
	"slices"

	"parcours.example/analysis/wording"
)

// panel is a plot below the profile, on its axis: one line for each ride.
type panel struct {
	scale
	// heads are what it shows, from the fullest words to the shortest.
	heads []string
	// lines are the readings of each ride, empty for one that has none; levels are heights
	// of a ride that don't change along the course.
	lines  [][]reading
	levels []level
	// lows are the places that are pointed out.
	lows []low
}

// level is a thin line right across a panel.
type level struct {
	ride  int
	value float64
	dash  []float64
}

// low is a place of a ride that is pointed out.
type low struct {
	ride int
	at   reading
}

// linePx is the width of a ride's line, levelPx that of a level.
const linePx, levelPx = 1.6, 0.8

// headroomShare is how much of a scale is free above the highest line, and below the
// lowest where that isn't at zero.
const headroomShare = 0.06

// panels are speed, power and, where any ride's is known, the balance of W′.
func (s *sheet) panels(g *ground) []*panel {
	columnM := (g.toM - g.fromM) / float64(len(g.steps))
	speed := &panel{heads: []string{"speed"}, scale: scale{unit: s.Units.SpeedUnit()}}
	power := &panel{heads: s.powerHeads(), scale: scale{unit: "W"}}
	balance := &panel{heads: s.balanceHeads(), scale: scale{unit: "kJ"}}
	known := false
	for i, r := range s.Rides.All {
		var v, p, w []reading
		if len(r.Trace.DistanceM) > 1 {
			t := newTrail(r.Trace, columnM)
			v, p, w = t.speeds(), t.powers(), t.balances()
		}
		speed.add(v, g.fromM, 1/s.Units.SpeedMps())
		power.add(p, g.fromM, 1)
		balance.add(w, g.fromM, 1e-3)
		if known = known || w != nil; w != nil && s.falls(r) {
			balance.lows = append(balance.lows, low{i, reading{r.LowAtM, r.LowJ / 1000}})
		}
	}
	s.addLevels(power)
	all := []*panel{speed, power}
	if known {
		all = append(all, balance)
	}
	for _, p := range all {
		room := float64(headroomShare * (p.high - p.low))
		p.high += room
		if p.low < 0 {
			p.low -= room
		}
	}
	return all
}

// add takes the readings of a ride that starts at fromM into a panel whose unit has so
// many of theirs, and widens its scale to them.
func (p *panel) add(all []reading, fromM, per float64) {
	line := make([]reading, len(all))
	for i, r := range all {
		line[i] = reading{r.m + fromM, float64(r.value * per)}
		p.low, p.high = min(p.low, line[i].value), max(p.high, line[i].value)
	}
	p.lines = append(p.lines, line)
}

// addLevels adds the riders' critical powers and the best constant powers, each once.
func (s *sheet) addLevels(p *panel) {
	add := func(ride int, value float64, dash []float64) {
		drawn := func(l level) bool { return math.Abs(l.value-value) < 0.5 && len(l.dash) == len(dash) }
		if !math.IsNaN(value) && !slices.ContainsFunc(p.levels, drawn) {
			p.levels = append(p.levels, level{ride, value, dash})
			p.high = max(p.high, value)
		}
	}
	for i, r := range s.Rides.All {
		add(i, r.CriticalPowerW, nil)
		add(i, r.ConstantPowerW, constantDash())
	}
}

// panelGap is the room over a panel, in which its head stands.
func (s *sheet) panelGap() float64 { return math.Round(1.9 * s.textPx) }

// drawPanel draws a panel with its head and its scale, no number of which stands below a
// lowest place.
func (s *sheet) drawPanel(g *ground, p *panel, lowest float64) {
	room := float64(s.WidthPx) - p.plot.x0 - s.padPx
	head := s.firstFitting(p.heads, room)
	s.write(s.ink.Muted, atStart, point{p.plot.x0, p.plot.y0 - float64(0.55*s.textPx)}, head)
	s.scaleAxis(p.scale, lowest)
	foot := p.y(0)
	s.d.draw(s.ink.Muted, 1, []point{{p.plot.x0, foot}, {p.plot.x1, foot}})
	for _, l := range p.levels {
		y := p.y(l.value)
		s.d.drawDashed(s.ink.Lines[l.ride], levelPx, l.dash, []point{{p.plot.x0, y}, {p.plot.x1, y}})
	}
	for i, line := range p.lines {
		if len(line) > 0 {
			s.d.drawDashed(s.ink.Lines[i], linePx, pattern(i), s.onPaper(g, p, line))
		}
	}
	for _, l := range p.lows {
		at := point{g.x(l.at.m), p.y(l.at.value)}
		s.d.fill(s.ink.Paper, diamond(at, lowPx+1.5))
		s.d.fill(s.ink.Lines[l.ride], diamond(at, lowPx))
	}
}

// falls reports whether a ride's balance of W′ is known and ever below where it starts.
func (s *sheet) falls(r Ride) bool { return !math.IsNaN(r.LowJ) && r.LowAtM > s.Rides.FromM }

// onPaper brings readings onto a panel.
func (s *sheet) onPaper(g *ground, p *panel, all []reading) []point {
	line := make([]point, len(all))
	for i, r := range all {
		line[i] = point{g.x(r.m), p.y(r.value)}.tenths()
	}
	return straightened(line)
}

// lowPx is the size of the sign of a low, from its middle to its edge.
const lowPx = 3.5

func diamond(at point, r float64) []point {
	return []point{{at.x, at.y - r}, {at.x + r, at.y}, {at.x, at.y + r}, {at.x - r, at.y}}
}

// pattern is the dashes and gaps in px of a ride's line: whole, long, short, and by turns.
func pattern(ride int) []float64 {
	return [...][]float64{nil, {9, 3.5}, {2.5, 2.5}, {9, 2.5, 2, 2.5}}[ride%MostRides]
}

// constantDash is that of a best constant power.
func constantDash() []float64 { return []float64{1.5, 3} }

// powerHeads say what the power's panel shows.
func (s *sheet) powerHeads() []string {
	head, thin, dotted := "power", "", ""
	if s.Rides.Planned {
		head = "power, in steps"
	}
	for _, r := range s.Rides.All {
		if !math.IsNaN(r.CriticalPowerW) {
			thin = "; thin line: critical power"
		}
		if !math.IsNaN(r.ConstantPowerW) {
			dotted = "; dotted: best constant power"
		}
	}
	return []string{head + thin + dotted, head}
}

// balanceHeads say what the panel of W′ shows, and where the lowest balances are.
func (s *sheet) balanceHeads() []string {
	const head = "balance of W′"
	var named, told []string
	for _, r := range s.Rides.All {
		if s.falls(r) {
			told = append(told, wording.Kilojoules(r.LowJ)+" at "+s.Units.Length(r.LowAtM))
			named = append(named, s.who(r)+" "+told[len(told)-1])
		}
	}
	switch {
	case len(told) == 0:
		return []string{head}
	case len(s.Rides.All) == 1:
		named = told
	}
	return []string{head + ", lowest: " + wording.List(named...), head + ", lowest: " + wording.List(told...), head + ", lowest at the signs", head}
}
