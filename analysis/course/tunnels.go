package course

import (
	"math"
	"slices"
)

// Elevations of a terrain model follow the hill over a tunnel and the valley under a
// bridge. They leave the road and come back to it more steeply than roads go:
// tunnelGradient over flankM, the steepest public streets having about as much (common
// practice). Between the two they stay away from it, by tunnelM or more somewhere, for
// more than a sample or two, and each side makes flankShare of that height. A long tunnel's
// hill has sides of hillsideM or more. The road itself goes straight and at most at
// portalGradient.
const (
	tunnelGradient = 0.35
	flankM         = 20.0
	hillsideM      = 40.0
	// flankSigmas is how much of a rise may be noise, in its standard deviations: three
	// of a difference. Scatter of 1 m makes 35 % of 20 % every few kilometres.
	flankSigmas    = 4.2
	tunnelM        = 5.0
	tunnelSamples  = 2
	flankShare     = 1.0 / 3
	portalGradient = 0.12
	// easyGradient is where the sides of a tunnel's hill go over into the road.
	easyGradient = 0.15
	// A tunnel is at most longestTunnelM long, and its hill has at most that many
	// flanks.
	longestTunnelM = 6000.0
	tunnelFlanks   = 16
)

// flank is a side of a hill or valley that no road climbs, between two samples.
type flank struct {
	from, to int
	up       bool
}

// bridgeTunnels takes out what a model has between the ends of tunnels and bridges.
func (m *mending) bridgeTunnels() {
	flanks := m.flanks()
	found := 0
	for a := 0; a < len(flanks); a++ {
		b := m.farEnd(flanks, a)
		if b == a {
			continue
		}
		from, to := flanks[a].from, flanks[b].to
		if found++; found <= maxTunnelWarnings {
			what := "hill"
			if !flanks[a].up {
				what = "valley"
			}
			m.tell("elevation-tunnel", m.s[from], "; it was taken for a tunnel or a bridge and made straight",
				"the elevations cross a %s for %.0f m whose sides are steeper than roads are", what, m.s[to]-m.s[from])
		}
		m.straight = append(m.straight, [2]float64{m.s[from], m.s[to]})
		m.forget(from+1, to)
		a = b
	}
	if found > maxTunnelWarnings {
		m.q.warn("elevation-tunnel", math.NaN(), "%d such hills and valleys in all", found)
	}
	if found > 0 {
		m.compact()
	}
}

// maxTunnelWarnings bounds how many tunnels are told one by one.
const maxTunnelWarnings = 5

// farEnd returns the index of the last flank by which the elevations come back to the
// road that they left by flank a; a if there is none.
func (m *mending) farEnd(flanks []flank, a int) int {
	end := a
	from := flanks[a].from
	for b := a + 1; b < min(len(flanks), a+1+tunnelFlanks); b++ {
		to := flanks[b].to
		if m.s[to]-m.s[from] > longestTunnelM {
			break
		}
		if flanks[b].up != flanks[a].up && math.Abs(m.gradient(from, to)) <= portalGradient && m.staysAway(flanks[a], flanks[b]) {
			end = b
		}
	}
	return end
}

// staysAway reports whether the elevations between two flanks are off the line between
// their feet, on the side that the first one leads to.
func (m *mending) staysAway(a, b flank) bool {
	sign := -1.0
	if a.up {
		sign = 1
	}
	least, most := max(tunnelM, m.jump), 0.0
	switch {
	case b.to-a.from <= tunnelSamples:
		return false // a spike
	case m.s[b.to]-m.s[a.from] > longestJumpM && (m.abrupt(a) || m.abrupt(b)):
		return false // the level steps away and back: the shape between is the road's
	}
	for i := a.to; i <= b.from; i++ {
		off := sign * m.away(i, a.from, b.to)
		if off < awayShare*least {
			return false
		}
		most = max(most, off)
	}
	// Where the two meet in a point its height is that of either's far end.
	up, down := sign*m.away(a.to, a.from, b.to), sign*m.away(b.from, a.from, b.to)
	most = max(most, up, down)
	return most >= least && min(up, down) >= flankShare*most
}

// abrupt reports whether a flank is too short for a hillside.
func (m *mending) abrupt(f flank) bool {
	return f.to-f.from < 2 || m.s[f.to]-m.s[f.from] < hillsideM
}

// flanks returns the stretches that are steeper than roads are, in order, each widened
// to where the slope eases.
func (m *mending) flanks() []flank {
	var found []flank
	n := len(m.s)
	for i, j := 0, 0; i < n; i++ {
		for j < n && m.s[j]-m.s[i] < flankM {
			j++
		}
		if j == n {
			break
		}
		rise := m.z[j] - m.z[i]
		sure := math.Abs(rise) - float64(flankSigmas*m.noise)
		if sure <= float64(tunnelGradient*(m.s[j]-m.s[i])) || m.isStep(i, j) {
			continue
		}
		up := rise > 0
		if k := len(found) - 1; k >= 0 && found[k].up == up && i <= found[k].to {
			found[k].to = j
			continue
		}
		found = append(found, flank{i, j, up})
	}
	for k := range found {
		m.widen(&found[k])
	}
	return slices.DeleteFunc(found, func(f flank) bool {
		return math.Abs(m.z[f.to]-m.z[f.from]) < m.jump // no more than scatter
	})
}

// isStep reports whether the rise from i to j is nearly all a jump between two samples
// that are closer than a flank is long: a step of the altimeter, not a hillside.
func (m *mending) isStep(i, j int) bool {
	rise := m.z[j] - m.z[i]
	for k := i + 1; k <= j; k++ {
		if m.s[k]-m.s[k-1] < flankM && (m.z[k]-m.z[k-1])/rise > 0.8 {
			return true
		}
	}
	return false
}

// widen moves the ends of a flank to where the slope of its direction falls below
// easyGradient.
func (m *mending) widen(f *flank) {
	steep := func(i, j int) bool {
		g := m.gradient(i, j)
		return g > easyGradient && f.up || g < -easyGradient && !f.up
	}
	for f.from+1 < f.to && !steep(f.from, f.from+1) {
		f.from++
	}
	for f.to-1 > f.from && !steep(f.to-1, f.to) {
		f.to--
	}
	for f.from > 0 && steep(f.from-1, f.from) {
		f.from--
	}
	for f.to+1 < len(m.s) && steep(f.to, f.to+1) {
		f.to++
	}
}
