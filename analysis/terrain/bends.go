package terrain

import (
	"math"
	"sort"

	"parcours.example/analysis/course"
)

// bendsOf returns the bends of a course: stretches of nodes that turn to one side, by
// 30° or more in all, each node more than a radius of 300 m does and one at least more
// than a radius of 100 m. None without positions.
func bendsOf(c *course.Course) []Bend {
	var bends []Bend
	k := c.Curvature
	for i := 0; i < len(k); {
		j, tight := i, false
		for j < len(k) && abs(k[j]) >= 1.0/bendEndsM && (k[j] > 0) == (k[i] > 0) {
			tight = tight || abs(k[j]) >= 1.0/bendRadiusM
			j++
		}
		if tight {
			if b := bend(c, i, j); abs(b.TurnDeg) >= bendTurnDeg {
				bends = append(bends, b)
			}
		}
		i = max(j, i+1)
	}
	return bends
}

// bend measures the bend at the nodes [from, to).
func bend(c *course.Course, from, to int) Bend {
	var turn float64
	tightest := from
	last := len(c.S) - 1
	for i := from; i < to; i++ {
		// Each node stands for half of the pieces on its two sides.
		turn += float64(c.Curvature[i] * (c.S[min(i+1, last)] - c.S[max(i-1, 0)]) / 2)
		if abs(c.Curvature[i]) > abs(c.Curvature[tightest]) {
			tightest = i
		}
	}
	return Bend{
		AtM:     c.S[tightest],
		RadiusM: 1 / abs(c.Curvature[tightest]),
		TurnDeg: turn * 180 / math.Pi,
	}
}

// bendsOn returns the bends whose sharpest point lies on a stretch.
func bendsOn(bends []Bend, on span) []Bend {
	i := sort.Search(len(bends), func(i int) bool { return bends[i].AtM >= on.start })
	j := sort.Search(len(bends), func(i int) bool { return bends[i].AtM > on.end })
	return bends[i:max(i, j)]
}
