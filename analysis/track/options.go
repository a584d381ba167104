package track

// Options say what to read of a file and how much of it at most.
type Options struct {
	// Track is the 1-based number of the line to read, in file order; in GPX the
	// tracks are counted first and then the routes. At 0 it is the first line with two or
	// more points.
	Track int
	// Limits bound the file; each limit left at 0 is that of DefaultLimits.
	Limits Limits
}

// DefaultLimits returns what a file may hold unless said otherwise: 1,000,000
// points, 2,000 marks, elements 64 deep, names of 200 runes, 20,000 tracks, routes
// and segments together, 20,000,000 elements, and 160 MiB unpacked.
func DefaultLimits() Limits {
	return Limits{
		Points: 1_000_000, Marks: 2_000, Depth: 64, NameRunes: 200,
		Parts: 20_000, Elements: 20_000_000, Bytes: 160 << 20,
	}
}

// What is packed may unpack to PlentifulBytes whatever its own size, and beyond that to
// MostPacked times its size: files of courses pack to a tenth or a thirtieth, the point of a
// device that stands still for hours to a seventieth, white space to a thousandth and less.
const (
	PlentifulBytes = 1 << 20
	MostPacked     = 200
)

// Unpacked returns how many bytes may come of a number of packed ones, at most Bytes.
func (l Limits) Unpacked(packed int) int {
	most := l.orDefault().Bytes
	if packed > most/MostPacked {
		return most
	}
	return min(most, PlentifulBytes+MostPacked*packed)
}

// orDefault returns l with DefaultLimits in the place of each limit that is 0.
func (l Limits) orDefault() Limits {
	d := DefaultLimits()
	for _, f := range []struct{ limit, standard *int }{
		{&l.Points, &d.Points},
		{&l.Marks, &d.Marks},
		{&l.Depth, &d.Depth},
		{&l.NameRunes, &d.NameRunes},
		{&l.Parts, &d.Parts},
		{&l.Elements, &d.Elements},
		{&l.Bytes, &d.Bytes},
	} {
		if *f.limit == 0 {
			*f.limit = *f.standard
		}
	}
	return l
}

// checkEvery is how many tokens, records or messages of a file are read between two looks at
// whether anybody still waits for it.
const checkEvery = 256
