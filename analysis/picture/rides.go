package picture

import (
	"fmt"
	"math"

	"parcours.example/analysis/colour"
	"parcours.example/analysis/ride"
)

// MostRides is the most rides that one picture tells apart.
const MostRides = colour.LineCount

// Rides are rides over a course, or over a stretch of it.
type Rides struct {
	// FromM and ToM bound what is ridden, in metres along the course.
	FromM, ToM float64
	// Planned says that the rides are those of plans, as riders hold them in steps.
	Planned bool
	// Indoor says that they are ridden in a hall.
	Indoor bool
	// All are the rides, one to MostRides.
	All []Ride
}

// Ride is a line of each panel. What isn't known of it is NaN.
type Ride struct {
	// Rider and Setup are names. Own says that a plan stands beside it, and that this is
	// the rider's own effort.
	Rider, Setup string
	Own          bool
	// Recorded says that it was ridden, and the others predicted.
	Recorded bool
	// Trace is the ride from Rides.FromM on, which is its zero; empty where there is none. One
	// that was recorded may be without power.
	Trace ride.Trace
	// TimeS and MeanPowerW sum it up, LowJ is the lowest balance of W′, LowAtM where on the
	// course it is.
	TimeS, MeanPowerW, LowJ, LowAtM float64
	// HaltAtM is where on the course the rider comes to a halt; the trace ends there.
	HaltAtM float64
	// RunsDryAtM is where on the course the balance of W′ first falls below zero.
	RunsDryAtM float64
	// CriticalPowerW is the rider's; ConstantPowerW is the best constant power beside a
	// plan, and ConstantTimeS the time that it takes.
	CriticalPowerW, ConstantPowerW, ConstantTimeS float64
	// PlanTimeS is the time of the plan that the steps were made of.
	PlanTimeS float64
	// Band is how far the time can be trusted, of a plan PlanTimeS; nil where that isn't
	// known.
	Band *ride.Band
	// Why says why there is no ride; empty where there is one.
	Why string
}

// Heights of plots in px: the least in sizes of text, so that a scale has two numbers, and
// those that suit a picture as shares of its width.
const (
	leastPlotSizes = 4.8
	profileShare   = 0.17
	panelShare     = 0.11
	mostProfilePx  = 230
	mostPanelPx    = 130
	// profileWeight is how much more of a height that is given a profile takes than a
	// panel.
	profileWeight = 1.5
	// lineSizes is the height of a profile without elevations.
	lineSizes = 1.2
)

// rides draws the profile with the passage times, speed, power and W′ below it.
func (s *sheet) rides() (*Drawing, error) {
	if n := len(s.Rides.All); n < 1 || n > MostRides {
		return nil, &Error{CodeTooManyRides, fmt.Sprintf("A picture shows 1 to %d rides, not %d.", MostRides, n)}
	}
	g := s.rideGround()
	panels := s.panels(g)
	labels := append(s.climbLabels(g), s.markLabels(g)...)
	told := s.newLegend(s.rideEntries())
	if err := s.settleHeight(g, told, len(labels), panels); err != nil {
		return nil, err
	}
	top := s.header(s.title(), []string{s.rideSummary()})
	s.drawEntries(told, top)
	below := s.layRides(g, top, told, len(labels), panels)
	s.bandsDown(g, top+s.entriesHeight(told), panels[len(panels)-1].plot.y1)
	s.heightAxis(g)
	s.ridge(g)
	s.parts(g)
	leftOut := s.passageRows(g, panels)
	for i, p := range panels {
		lowest := p.plot.y1
		if i == len(panels)-1 { // there the row of distances begins
			lowest -= s.textPx / 2
		}
		s.drawPanel(g, p, lowest)
	}
	s.distanceRows(g, below, 0, g.fromM, g.toM, s.Units.Long(), toGo)
	leftOut += s.place(g, labels, top+s.entriesHeight(told))
	s.signs(g)
	s.drawLegend(s.rideLegend(g))
	s.describeRides(g, leftOut)
	return s.d, nil
}

// rideGround takes what is ridden over the width of the paper.
func (s *sheet) rideGround() *ground {
	left := s.gutter(toGo, "888 "+s.Units.SpeedUnit())
	g := newGround(s.Course, math.Round(left), math.Round(float64(s.WidthPx)-float64(1.8*s.padPx)), s.Rides.FromM, s.Rides.ToM, gradientWindowM)
	g.settle()
	return g
}

// fixedHeight is the height in px of all but the plots and what is kept for labels.
func (s *sheet) fixedHeight(g *ground, told legend, panels []*panel) float64 {
	return s.headerHeight(1) + s.entriesHeight(told) + s.partsHeight() + s.passagesHeight() +
		float64(s.panelGap()*float64(len(panels))) + s.axisHeight() + s.legendHeight(s.rideLegend(g))
}

// leastProfile is the least height of the profile.
func (s *sheet) leastProfile() float64 {
	if s.Course.HasElevation() {
		return float64(leastPlotSizes * s.textPx)
	}
	return float64(lineSizes * s.textPx)
}

// leastLabelsSizes is what is kept for labels at least, in sizes of text.
const leastLabelsSizes = 2.6

// labelsHeight is what is kept for labels over a ground, at best.
func (s *sheet) labelsHeight(labels int) float64 {
	return float64(1.3 * s.textPx * float64(min(2+labels/8, 5)))
}

// settleHeight chooses the height where none is given, and fails where too little is.
func (s *sheet) settleHeight(g *ground, told legend, labels int, panels []*panel) error {
	fixed, n, plot := s.fixedHeight(g, told, panels), float64(len(panels)), float64(leastPlotSizes*s.textPx)
	least := s.leastProfile() + float64(plot*n) + float64(leastLabelsSizes*s.textPx)
	if s.HeightPx == 0 {
		width := float64(s.WidthPx)
		plots := s.leastProfile() + float64(n*min(max(float64(panelShare*width), plot), mostPanelPx))
		if s.Course.HasElevation() {
			plots += min(max(float64(profileShare*width), 90), mostProfilePx) - plot
		}
		s.HeightPx = min(int(math.Ceil(fixed+max(plots+s.labelsHeight(labels), least))), MostHeightPx)
		s.d.HeightPx = s.HeightPx
	}
	if need := int(math.Ceil(fixed + least)); s.HeightPx < need {
		return &Error{CodeTooLow, fmt.Sprintf("At a width of %d px this picture needs a height of %d px at least, not %d.", s.WidthPx, need, s.HeightPx)}
	}
	return nil
}

// layRides gives the plots their heights, below a header that ends at top, and returns
// where the rows of distance start.
func (s *sheet) layRides(g *ground, top float64, told legend, labels int, panels []*panel) (below float64) {
	free := float64(s.HeightPx) - s.fixedHeight(g, told, panels)
	n := float64(len(panels))
	least := float64(leastPlotSizes * s.textPx)
	over := min(s.labelsHeight(labels), max(free-s.leastProfile()-float64(least*n), float64(leastLabelsSizes*s.textPx)))
	high := max((free-over-s.leastProfile())/n, least)
	if s.Course.HasElevation() {
		high = max((free-over)/(profileWeight+n), least)
	}
	profile := free - over - float64(n*high)
	y := math.Round(top + s.entriesHeight(told) + over)
	g.rise(y, math.Round(y+profile))
	y = g.plot.y1 + s.partsHeight() + s.passagesHeight()
	for _, p := range panels {
		y += s.panelGap()
		p.plot = box{g.plot.x0, math.Round(y), g.plot.x1, math.Round(y + high)}
		y += high
	}
	below = panels[len(panels)-1].plot.y1
	s.d.plot = &plot{box{g.plot.x0, g.plot.y0, g.plot.x1, below}, g.fromM, g.toM}
	return below
}

// rideLegend explains colours, heights and signs, and says what the numbers are worth.
func (s *sheet) rideLegend(g *ground) legend { return append(s.profileLegend(g), s.cautionLine()) }
