package tally

// line counts what happens at a line.
type line struct {
	front, groups, winnerGap moments
	winnerLead               moments // in thousandths
	frontSizes               []int32 // runs by size
	winnerInFront            int64   // in units of whole
	entrants                 []atLine
}

type atLine struct {
	gap       moments
	inFront   int32
	frontWins int64 // wins from the front group, in units of whole
	wins      int64 // all wins
	bins      bins
}

func newLine(n int) line { return line{frontSizes: make([]int32, n+1), entrants: make([]atLine, n)} }

// add counts a run with the shares of its win.
func (l *line) add(o *order, wins []int64) {
	size, groups := o.groups()
	l.front.addThousandths(1000 * int64(size))
	l.groups.addThousandths(1000 * int64(groups))
	l.frontSizes[size]++
	winnerMs, winners := int64(never), int64(0)
	for k, i := range o.by {
		e := &l.entrants[i]
		e.wins += wins[i]
		if o.ms[i] == never {
			continue
		}
		gap := o.ms[i] - o.first()
		e.gap.addThousandths(gap)
		e.bins.add(gap)
		if k < size {
			e.inFront++
			e.frontWins += wins[i]
			winners += wins[i]
		}
		if wins[i] > 0 {
			winnerMs = min(winnerMs, gap)
		}
	}
	if winnerMs != never {
		l.winnerGap.addThousandths(winnerMs)
	}
	l.winnerInFront += winners
	l.winnerLead.add(1000 * (float64(winners)/whole - float64(size)/float64(len(o.by))))
}

func (l *line) merge(other *line) {
	l.front.merge(other.front)
	l.groups.merge(other.groups)
	l.winnerGap.merge(other.winnerGap)
	l.winnerLead.merge(other.winnerLead)
	addAll(l.frontSizes, other.frontSizes)
	l.winnerInFront += other.winnerInFront
	for i := range l.entrants {
		e, o := &l.entrants[i], &other.entrants[i]
		e.gap.merge(o.gap)
		e.inFront += o.inFront
		e.frontWins += o.frontWins
		e.wins += o.wins
		addAll(e.bins[:], o.bins[:])
	}
}

func (l *line) result(runs int) Line {
	out := Line{
		Front: l.front.mean(), Groups: l.groups.mean(),
		FrontSizes:    make([]float64, len(l.frontSizes)),
		WinnerInFront: oddsOf(l.winnerInFront, runs), WinnerGapS: l.winnerGap.mean(), WinnerLead: l.winnerLead.mean().over(1000),
		Entrants: make([]AtLine, len(l.entrants)),
	}
	for size, n := range l.frontSizes {
		out.FrontSizes[size] = float64(n) / float64(runs)
	}
	for i := range l.entrants {
		e := &l.entrants[i]
		out.Entrants[i] = AtLine{
			InFront:      oddsIn(e.inFront, runs),
			WinFromFront: oddsOf(e.frontWins, int(e.inFront)), WinFromBehind: oddsOf(e.wins-e.frontWins, runs-int(e.inFront)),
			GapS: e.gap.mean(), Gap10: e.bins.quantile(0.1, int(e.gap.n)), Gap90: e.bins.quantile(0.9, int(e.gap.n)),
		}
	}
	return out
}

// climb counts what entrants gain on a climb.
type climb struct {
	seconds, places []moments
	foot, top       []int64 // work space
}

func newClimb(n int) climb {
	return climb{make([]moments, n), make([]moments, n), make([]int64, n), make([]int64, n)}
}

func (c *climb) add(foot, top *order) {
	foot.doubledPlaces(c.foot)
	top.doubledPlaces(c.top)
	for i := range c.seconds {
		if foot.ms[i] == never || top.ms[i] == never {
			continue
		}
		c.seconds[i].addThousandths(foot.ms[i] - foot.first() - (top.ms[i] - top.first()))
		c.places[i].addThousandths((c.foot[i] - c.top[i]) * 500)
	}
}

func (c *climb) merge(other *climb) {
	for i := range c.seconds {
		c.seconds[i].merge(other.seconds[i])
		c.places[i].merge(other.places[i])
	}
}

func (c *climb) result() Gains {
	out := Gains{Entrants: make([]Gain, len(c.seconds))}
	for i := range out.Entrants {
		out.Entrants[i] = Gain{c.seconds[i].mean(), c.places[i].mean()}
	}
	return out
}
