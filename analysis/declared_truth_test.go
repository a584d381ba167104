package analysis_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/track"
	"parcours.example/internal/seeded"
)

// oneLap returns a lapped line with all its laps but the last left out: the way in, one
// lap, and the way out.
func oneLap(l coursegen.Line, truth coursegen.Truth) coursegen.Line {
	first, last := nodeAt(l, truth.LapStarts[0]), nodeAt(l, truth.LapStarts[truth.Laps-1])
	p := coursegen.Line{Pos: slices.Concat(l.Pos[:first], l.Pos[last:]), Z: slices.Concat(l.Z[:first], l.Z[last:]), S: slices.Clone(l.S[:first])}
	for _, s := range l.S[last:] {
		p.S = append(p.S, l.S[first]+s-l.S[last])
	}
	return p
}

// A recorded file that holds the lap once, with its way in or out, makes the race with
// its laps: in 98 % of cases its laps lie within 30 m on the ground, and its length and
// ascent within 2 %.
func TestOneLapMakesTheRace(t *testing.T) {
	seed := seeded.First(t)
	laps, boundary, length := &tally{t: t}, &tally{t: t}, &tally{t: t}
	for _, kind := range []coursegen.Kind{coursegen.Lapped, coursegen.LeadIn, coursegen.RunOut, coursegen.FigureEight} {
		for i := range uint64(seeded.Cases(200)) {
			l, truth := coursegen.Random(kind, seed+i)
			file := oneLap(l, truth)
			noise := coursegen.RandomNoise(seed + i)
			opt := course.Defaults()
			opt.Laps = truth.Laps
			c, err := course.FromTrack(context.Background(), &track.Track{Points: coursegen.Record(file, noise, seed+i)}, opt)
			laps.add(err == nil, "kind %d, seed %d (%.1f m, every %.0f s): %v", kind, seed+i, noise.PositionM, noise.IntervalS, err)
			if err != nil {
				continue
			}
			want := file.LengthM() + float64(truth.Laps-1)*truth.LapLengthM
			off := c.LengthM()/want - 1
			length.add(math.Abs(off) < 0.02, "kind %d, seed %d (%.1f m, every %.0f s): %.0f m long, want %.0f m", kind, seed+i, noise.PositionM, noise.IntervalS, c.LengthM(), want)
			worst := 0.0
			for _, at := range boundaries(c) {
				// Every line of the laps is the same place on the ground.
				line := truth.LapStarts[1]
				worst = math.Max(worst, math.Abs(onGround(l, c, at, line)-line))
			}
			boundary.add(worst <= 30, "kind %d, seed %d (%.1f m, every %.0f s): a lap's end is off by %.0f m", kind, seed+i, noise.PositionM, noise.IntervalS, worst)
		}
	}
	laps.demand("laps that close", 0.02)
	boundary.demand("boundaries within 30 m", 0.02)
	length.demand("lengths within 2 %", 0.02)
}
