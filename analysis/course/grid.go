package course

import (
	"math"
	"slices"
	"sort"

	"parcours.example/analysis/geodesy"
)

// grid finds the samples of a ground around a point. It lies in the level plane at
// the start of the course; the plane only sorts, distances are measured in space.
type grid struct {
	origin geodesy.Vec
	frame  geodesy.Frame
	cell   float64
	ids    map[[2]int32]int32
	// items holds the samples by cell in ascending order, those of cell id from
	// first[id] to first[id+1].
	first, items []int32
}

// newGrid sorts the samples of g into square cells of a width in metres.
func newGrid(g *ground, cell float64) *grid {
	gr := &grid{
		origin: g.pos[0], frame: geodesy.FrameAt(g.pos[0]), cell: cell,
		ids: make(map[[2]int32]int32),
	}
	of := make([]int32, len(g.pos))
	for i, p := range g.pos {
		key := gr.key(p)
		id, known := gr.ids[key]
		if !known {
			id = int32(len(gr.ids))
			gr.ids[key] = id
			gr.first = append(gr.first, 0)
		}
		of[i] = id
		gr.first[id]++
	}
	gr.fill(of)
	return gr
}

// fill turns the counts in first into ends and places the samples from the back.
func (gr *grid) fill(of []int32) {
	sum := int32(0)
	for id, count := range gr.first {
		sum += count
		gr.first[id] = sum
	}
	gr.first = append(gr.first, sum)
	gr.items = make([]int32, len(of))
	for i := len(of) - 1; i >= 0; i-- {
		gr.first[of[i]]--
		gr.items[gr.first[of[i]]] = int32(i)
	}
}

func (gr *grid) key(p geodesy.Vec) [2]int32 {
	d := p.Sub(gr.origin)
	return [2]int32{
		int32(math.Floor(d.Dot(gr.frame.East) / gr.cell)),
		int32(math.Floor(d.Dot(gr.frame.North) / gr.cell)),
	}
}

// later returns the samples of the cell at key from the given one on.
func (gr *grid) later(key [2]int32, from int) []int32 {
	id, known := gr.ids[key]
	if !known {
		return nil
	}
	items := gr.items[gr.first[id]:gr.first[id+1]]
	return items[sort.Search(len(items), func(k int) bool { return int(items[k]) >= from }):]
}

// around returns in order the samples of g within a radius in metres of p.
func (gr *grid) around(g *ground, p geodesy.Vec, radius float64) []int {
	var found []int
	key, reach := gr.key(p), int32(math.Ceil(radius/gr.cell))
	for east := key[0] - reach; east <= key[0]+reach; east++ {
		for north := key[1] - reach; north <= key[1]+reach; north++ {
			for _, i := range gr.later([2]int32{east, north}, 0) {
				if geodesy.Chord(g.pos[i], p) <= radius {
					found = append(found, int(i))
				}
			}
		}
	}
	slices.Sort(found)
	return found
}
