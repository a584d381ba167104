package picture

import (
	"math"

	"parcours.example/analysis/colour"
)

// way is a stretch of the course on the paper, with the place along it of each point.
type way struct {
	line []point
	atM  []float64
}

// leastStepPx is how far apart points of a way lie at least.
const leastStepPx = 1.0

// ways are the stretches of the course that are ridden for the first time.
func (m *terrainMap) ways() (ways []way) {
	var w way
	end := func() {
		if len(w.line) > 1 {
			ways = append(ways, w)
		}
		w = way{}
	}
	c := m.s.Course
	for i, x := range c.S {
		if m.again(x) {
			end()
			continue
		}
		p := m.project(c.Pos[i])
		if n := len(w.line); n > 0 && i < len(c.S)-1 && fromChord(p, w.line[n-1], w.line[n-1]) < leastStepPx {
			continue
		}
		w.line, w.atM = append(w.line, p), append(w.atM, x)
	}
	end()
	return ways
}

// again reports whether the ground of a position was ridden before in its direction.
func (m *terrainMap) again(x float64) bool {
	if m.s.Course.LapAt(x) > 1 {
		return true
	}
	for _, r := range m.s.Course.Repeats {
		if x > r.AgainStartM && x < r.AgainEndM {
			return true
		}
	}
	return false
}

// drawWays draws the line around the ways, the ways in the colours of their gradients, and
// arrows along them.
func (m *terrainMap) drawWays(ways []way) {
	var casing [][]point
	var steps [colour.StepCount][][]point
	for _, w := range ways {
		casing = append(casing, straightened(w.line))
		for i := 0; i+1 < len(w.line); {
			step, j := m.step(w, i), i+1
			for j+1 < len(w.line) && m.step(w, j) == step {
				j++
			}
			steps[step] = append(steps[step], straightened(w.line[i:j+1]))
			i = j
		}
	}
	m.s.d.draw(m.s.ink.Muted, casingPx, casing...)
	for step, lines := range steps {
		m.s.d.draw(m.s.ink.Steps[step], wayPx, lines...)
	}
	for _, w := range ways {
		m.arrows(w)
	}
}

// step is the step of gradient of a way from one of its points to the next; that of level
// ground without elevation.
func (m *terrainMap) step(w way, i int) int {
	return colour.Step(gradientPct(m.s.Course, (w.atM[i]+w.atM[i+1])/2, m.gradientM))
}

// arrows draws an arrow in the direction of travel every so often.
func (m *terrainMap) arrows(w way) {
	since := arrowsPx / 2
	for i := 1; i < len(w.line); i++ {
		since += fromChord(w.line[i], w.line[i-1], w.line[i-1])
		if since < arrowsPx {
			continue
		}
		since = 0
		// The direction over a few pixels is that of the road and not of its noise.
		a, b := w.line[max(i-4, 0)], w.line[i]
		if a == b {
			continue
		}
		nx, ny := normal(a, b, 1)
		head := func(k float64) []point {
			fx, fy := ny, -nx // the way forward
			return []point{
				{b.x + float64(5*k*fx), b.y + float64(5*k*fy)},
				{b.x + float64(k*(float64(4*nx)-float64(4*fx))), b.y + float64(k*(float64(4*ny)-float64(4*fy)))},
				{b.x - float64(2*k*fx), b.y - float64(2*k*fy)},
				{b.x - float64(k*(float64(4*nx)+float64(4*fx))), b.y - float64(k*(float64(4*ny)+float64(4*fy)))},
			}
		}
		m.s.d.fill(m.s.ink.Paper, head(1.9))
		m.s.d.fill(m.s.ink.Ink, head(1.3))
	}
}

// taken is the room of the ways, where no label may lie.
func (m *terrainMap) taken(ways []way) (taken []box) {
	const every = 4 // px, below the size of a letter
	for _, w := range ways {
		for i, p := range w.line {
			if i > 0 {
				a := w.line[i-1]
				for n := math.Ceil(fromChord(p, a, a) / every); n > 1; n-- {
					taken = append(taken, box{p.x, p.y, p.x, p.y}.grown(4, 4))
					p = point{p.x + (a.x-p.x)/n, p.y + (a.y-p.y)/n}
				}
			}
			taken = append(taken, box{p.x, p.y, p.x, p.y}.grown(4, 4))
		}
	}
	return taken
}
