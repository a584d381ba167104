package coursegen

import (
	"fmt"
	"math"
	"math/rand/v2"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// Passing a place means to come within passM of it; to be sure about it, the line
// comes no nearer than clearM elsewhere.
const (
	passM  = 3.0
	clearM = 120.0
)

// passes returns the positions at which a line passes a place, one for each approach,
// and whether it is sure that these are all: not where the line turns back near by.
func passes(l Line, place geodesy.Vec) (at []float64, sure bool) {
	sure = true
	for i := 0; i < len(l.S); {
		d := geodesy.Chord(l.Pos[i], place)
		if d > clearM {
			i += max(1, int((d-clearM)/(1.01*stepM)))
			continue
		}
		nearest, least, visits, there := i, d, 0, false
		for ; i < len(l.S); i++ {
			d := geodesy.Chord(l.Pos[i], place)
			if d > clearM {
				break
			}
			if d < least {
				nearest, least = i, d
			}
			if here := d <= passM; here != there {
				there = here
				if here {
					visits++
				}
			}
		}
		at = append(at, l.S[nearest])
		sure = sure && visits == 1
	}
	return at, sure
}

// randomMarks returns up to three marks at places where it is clear when they are
// passed.
func randomMarks(l Line, rng *rand.Rand) []Mark {
	kinds := []track.MarkKind{track.Sprint, track.Summit, track.Gate, track.Feed, track.Other}
	var marks []Mark
	for n := range 3 {
		place := l.Pos[rng.IntN(len(l.Pos))]
		if at, sure := passes(l, place); sure && apart(at, 3*clearM) {
			marks = append(marks, Mark{Name: fmt.Sprintf("place %c", 'A'+n), Kind: kinds[rng.IntN(len(kinds))], Pos: place, At: at})
		}
	}
	return marks
}

// apart reports whether positions are all at least a distance apart.
func apart(at []float64, leastM float64) bool {
	for i := 1; i < len(at); i++ {
		if math.Abs(at[i]-at[i-1]) < leastM {
			return false
		}
	}
	return true
}
