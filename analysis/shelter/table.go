package shelter

// Table answers what Line, Bunch and Gap do together, fast. It is made with NewTable and
// never changes.
type Table struct{ rows []row }

// row holds what a number of riders means, each in its own role.
type row struct {
	// wake is the share of the drag that so many ahead take away in a line, deep that in
	// a large bunch; push is that of so many behind.
	wake, deep, push float64
	// bunching is how much of a bunch so many are.
	bunching float64
}

// NewTable returns the table for groups of up to most riders, at least 1.
func NewTable(most int) *Table {
	rows := make([]row, max(most, 1)+1)
	wakes, pushes := wakes(), pushes()
	for n := range rows {
		rows[n] = row{
			wake: wakes[min(n, mostAhead)], deep: 1 - deep(n), push: pushes[min(n, mostBehind)],
			bunching: bunching(n),
		}
	}
	return &Table{rows}
}

// Factor returns the drag over the drag alone, in (0, 1], with a number of riders of the
// group ahead. The spread is 0 in a line, 1 in a bunch several abreast, between them linear.
// The lee is that of close riding times what the gap in metres leaves of it: all up to
// 0.115 m, none from 3 m on, and Olds's share between (see Gap). The gap is that to the
// wheel ahead; for the first rider, whose only lee is from those behind, that to the wheel
// behind.
//
// The spread must be in 0…1. Any ahead and riders may be asked for: a place beyond the last
// is the last's, one before the first the first's, a group of more than the table holds
// counts as the largest, and one of less than two riders is a rider alone.
func (t *Table) Factor(ahead, riders int, spread, gapM float64) float64 {
	riders = max(min(riders, len(t.rows)-1), 1)
	ahead = placed(ahead, riders)
	at := &t.rows[ahead]
	line := at.wake + t.rows[riders-1-ahead].push
	full := line + float64(float64(spread*t.rows[riders].bunching)*(at.deep-line))
	return 1 - float64(full*lee(gapM))
}
