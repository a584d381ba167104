package coursegen

// The definition of a climb.
const (
	freeGradient = 0.02 // score = gain − freeGradient·length
	leastScoreM  = 8.0
	leastMean    = 0.03
)

// Climbs returns the climbs of a line by the stated definition, straight from it:
// of all stretches the one with the greatest score gain − 0.02·length is taken, then
// the same is done with what lies before and with what lies after it. (W. L. Ruzzo
// and M. Tompa, A linear time algorithm for finding all maximal scoring
// subsequences, 1999, give this definition, and a faster way that is not used here.)
// Those with a score of 8 m or more and a mean gradient of 3 % or more are climbs. In
// one that scores as much over a gentler mean the same is done once more with 0.03
// in place of 0.02, and what scores 8 m with 0.02 there is a climb. They come in
// course order.
func Climbs(l Line) []Stretch {
	gentle := scored(l, freeGradient)
	gentle.least = leastScoreM
	return gentle.climbs(0, len(l.S)-1, func(from, to int) []Stretch {
		s := gentle.stretch(from, to)
		if s.GainM >= leastMean*(s.EndM-s.StartM) {
			return []Stretch{s}
		}
		return scored(l, leastMean).climbs(from, to, func(from, to int) []Stretch {
			if gentle.of(from, to) < leastScoreM {
				return nil
			}
			return []Stretch{gentle.stretch(from, to)}
		})
	})
}

// score is a line with gain − gradient·length up to each node, and the least score
// that is asked for.
type score struct {
	Line
	upTo  []float64
	least float64
}

func scored(l Line, gradient float64) score {
	c := score{Line: l, upTo: make([]float64, len(l.S))}
	for i := range c.upTo {
		c.upTo[i] = l.Z[i] - float64(gradient*l.S[i])
	}
	return c
}

func (c score) of(from, to int) float64 { return c.upTo[to] - c.upTo[from] }

func (c score) stretch(from, to int) Stretch {
	return Stretch{StartM: c.S[from], EndM: c.S[to], GainM: c.Z[to] - c.Z[from]}
}

// climbs returns what each best stretch between two nodes holds, in order.
func (c score) climbs(first, last int, in func(from, to int) []Stretch) []Stretch {
	from, to := best(c.upTo, first, last)
	if to == from || c.of(from, to) < c.least {
		return nil // and no part of it scores more
	}
	all := append(c.climbs(first, from, in), in(from, to)...)
	return append(all, c.climbs(to, last, in)...)
}

// best returns the two nodes, in order, between which the score grows most.
func best(score []float64, first, last int) (from, to int) {
	from, to = first, first
	lowest := first
	for i := first; i <= last; i++ {
		if score[i] < score[lowest] {
			lowest = i
		}
		if score[i]-score[lowest] > score[to]-score[from] {
			from, to = lowest, i
		}
	}
	return from, to
}
