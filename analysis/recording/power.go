package recording

import (
	"fmt"
	"math"

	"parcours.example/analysis"
)

const (
	// highestPowerW is a power in W that nobody gives over a second on a bicycle; the
	// highest that are published lie about 2,500 W (common practice).
	highestPowerW = 2500.0
	// spikePowerW is by how much in W one sample above both its neighbours is none of
	// the rider's: legs need more than one sample for it.
	spikePowerW = 1000.0
	// stuckS is the time in seconds over which the same power to the watt is a meter's
	// that has lost its signal.
	stuckS = 15.0
)

// mendPower takes out power that is none of the rider's. It becomes missing, not zero.
func (m *mending) mendPower() {
	if m.powerIsZero() {
		return
	}
	for i := range m.samples {
		s := &m.samples[i]
		m.bound(s, &s.PowerW, 0, highestPowerW, "power", "W")
	}
	for i := 1; i+1 < len(m.samples); i++ {
		m.dropPowerSpike(i)
	}
	m.dropStuck()
	m.dropZeros()
}

// powerIsZero takes the power out where it is zero all along.
func (m *mending) powerIsZero() bool {
	given := false
	for i := range m.samples {
		if p := m.samples[i].PowerW; !math.IsNaN(p) {
			if p != 0 {
				return false
			}
			given = true
		}
	}
	if given {
		m.found = append(m.found, &finding{
			code: "power-absent", clockS: math.NaN(), count: len(m.samples),
			detail: "The power is 0 W all along, as without a meter; it was taken for missing.",
		})
	}
	for i := range m.samples {
		m.samples[i].PowerW = math.NaN()
	}
	return true
}

// dropPowerSpike takes the power of sample i out where it stands high above both
// neighbours.
func (m *mending) dropPowerSpike(i int) {
	s := &m.samples[i]
	v := s.PowerW
	if !(v-m.samples[i-1].PowerW > spikePowerW && v-m.samples[i+1].PowerW > spikePowerW) {
		return
	}
	s.PowerW = math.NaN()
	m.found.at("power-spike", s.ClockS, 0, func(f *finding) string {
		return fmt.Sprintf("%s of power, the first %.0f W, more than %.0f W above those before and after %s left out.", counted(f.count, "value"), v, spikePowerW, were(f.count))
	})
}

// dropStuck takes power out that is the same over a long time, unless that is how all
// of the ride is, as against a brake that holds the power.
func (m *mending) dropStuck() {
	var runs [][2]int
	held := 0
	for from := 0; from < len(m.samples); {
		to := from + 1
		for to < len(m.samples) && m.samples[to].PowerW == m.samples[from].PowerW && !m.broken[to] {
			to++
		}
		if m.samples[from].PowerW > 0 && m.samples[to-1].ClockS-m.samples[from].ClockS >= stuckS {
			runs = append(runs, [2]int{from, to})
			held += to - from
		}
		from = to
	}
	if held > len(m.samples)/2 {
		return
	}
	for _, r := range runs {
		m.takePower("power-stuck", r[0], r[1], func(f *finding) string {
			return fmt.Sprintf("The power stood still to the watt %s, for %.0f s in all, as a meter's that has lost its signal; it was left out.", times(f.count), f.seconds)
		})
	}
}

// takePower takes the power of samples [from, to) out.
func (m *mending) takePower(code string, from, to int, words func(*finding) string) {
	seconds := m.samples[to-1].ClockS - m.samples[max(from-1, 0)].ClockS
	m.found.at(code, m.samples[from].ClockS, seconds, words)
	for i := from; i < to; i++ {
		m.samples[i].PowerW = math.NaN()
	}
}

// leastZerosS is how long in seconds zeros last over which energy tells anything.
const leastZerosS = 3.0

// dropZeros takes zeros of power out over which the bicycle lost less energy than any
// that rolls freely, or gained some: the meter dropped out. Zeros downhill, or while the
// speed falls as it must, are the rider's.
func (m *mending) dropZeros() {
	for from := 0; from < len(m.samples); {
		to := from + 1
		if m.samples[from].PowerW != 0 {
			from = to
			continue
		}
		for to < len(m.samples) && m.samples[to].PowerW == 0 && !m.broken[to] {
			to++
		}
		if m.samples[to-1].ClockS-m.samples[from].ClockS >= leastZerosS && m.driven(from, to) {
			m.takePower("power-dropped-out", from, to, func(f *finding) string {
				return fmt.Sprintf("The power is zero %s, for %.0f s in all, while speed or elevation show that the rider gave some; it was left out.", times(f.count), f.seconds)
			})
		}
		from = to
	}
}

// What a bicycle loses at least that rolls freely in still air: rolling resistance of
// good tyres, and the drag of a heavy rider who lies low, per mass. Half of it is counted,
// for a wind from behind.
const (
	leastRollingMPS2 = 0.003 * analysis.Gravity
	leastDragPerM    = 0.5 * 1.1 * 0.2 / 90
	countedShare     = 0.5
)

// The standard deviations of the differences that the test for free rolling is made of,
// and how many of them must lie beyond it.
const (
	speedErrorMPS   = 0.15
	elevationErrorM = 0.4
	deviations      = 3.0
)

// mostLagS is by how many seconds barometers may lag behind the road, lagStepS the steps in
// which that is tried: over the top of a hill they show a climb where the descent is under
// way.
const mostLagS, lagStepS = 20.0, 5.0

// driven reports whether the zeros of power of samples [from, to) can't be true, by the
// energy in J/kg at their ends, however far the elevation lags. Without elevation nothing
// can be said.
func (m *mending) driven(from, to int) bool {
	begin, end := max(from-1, 0), to-1
	first, last := &m.samples[begin], &m.samples[end]
	v0, v1 := m.speedAt(begin, -1), m.speedAt(end, -1)
	way := moved(first, last)
	mean := way / (last.ClockS - first.ClockS)
	lost := way * (leastRollingMPS2 + float64(leastDragPerM*mean*mean))
	kinetic, potential := speedErrorMPS*max(v0, v1), elevationErrorM*analysis.Gravity
	noise := math.Sqrt2 * math.Sqrt(float64(kinetic*kinetic)+float64(potential*potential))
	left := float64((v1*v1-v0*v0)/2) + float64(countedShare*lost) - float64(deviations*noise)
	for lag := 0.0; lag <= mostLagS; lag += lagStepS {
		rise := m.elevationFrom(end, lag) - m.elevationFrom(begin, lag)
		if !(left+float64(analysis.Gravity*rise) > 0) {
			return false
		}
	}
	return true
}

// elevationFrom is the elevation shown some seconds after sample i, or at the end.
func (m *mending) elevationFrom(i int, seconds float64) float64 {
	until := m.samples[i].ClockS + seconds
	for i+1 < len(m.samples) && m.samples[i+1].ClockS <= until {
		i++
	}
	return m.samples[i].ElevationM
}
