// Package shelter says how much of the air's drag is left to a rider in the lee of
// others: the drag there over the same rider's drag alone, in (0, 1].
//
// Riders are told apart by how many of the group are ahead of them, not by mass or size:
// behind a rider much larger or smaller than oneself the drag differs by about 0.03 either
// way (Fitton et al. 2018). Vehicles are left out. What the sources say, and what is
// computed here:
//
//	                                                                    source     here
//	line of four, 1st/2nd/3rd/4th  Fitton et al. 2018            .96/.58/.52/.53  .960/.584/.524/.530
//	line of two                    van Druenen & Blocken 2021    .975/.552        .974/.619
//	line of eight, 1st/2nd/7th/8th                               .96/.52/.35/.36  .960/.579/.466/.488
//	line of nine, least found      (in their review)             .40              .455
//	line of two, leader            Blocken et al. 2013           .974             .974
//	line of two, gap 0/1/2/3 m     Olds 1998 (from memory)       .62/.66/.78/1.0  .619/.655/.782/1
//	line of two, gap 0/2 m         Kyle 1979                     .53/.73          .619/.782
//	121 riders, leader             Blocken et al. 2018           .88              .880
//	121 riders, two behind                                       .63              .650/.610
//	121 riders, middle of next row                               .38              .380
//	121 riders, in the middle                                    .10              .080
//	121 riders, far back                                         .04…0.07         .050
//	fourth of an echelon           JSAMS 2022                    .464             .504
//	leader of a straight line      (yaw 20°)                     .999             .991
//
// What lies between the sources is interpolated: groups of three to a hundred riders that
// ride several abreast, and crosswinds.
package shelter

// The numbers of riders ahead and behind in a line beyond which one more changes nothing.
const (
	mostAhead  = 7
	mostBehind = 3
)

// wakes are the shares of the drag that 0, 1, 2 … riders ahead take away in a line at
// close riding: one by Olds 1998 (see Gap), two and three by Fitton, Symons & Caddy 2018
// (Proc. IMechE P, doi 10.1177/1754337117692280). What each further one adds is that of van
// Druenen & Blocken 2021 (Sports Eng. 24:10, table 1) to the last of lines of five to eight,
// in the ratio of both papers' fourth.
func wakes() [mostAhead + 1]float64 {
	return [...]float64{0, nearestLee, 0.45, 0.47, 0.487, 0.505, 0.508, 0.512}
}

// pushes are the shares of the drag that 0, 1, 2 … riders behind take away, by filling the
// low pressure in one's back: one by Blocken et al. 2013 (Comput. Fluids 71:435–445), three
// by Fitton et al. 2018.
func pushes() [mostBehind + 1]float64 { return [...]float64{0, 0.026, 0.035, 0.04} }

// Line returns the drag over the drag alone at a place in a line at close riding, with a
// number of riders of the line ahead; 1 alone. A place beyond the last is the last's, one
// before the first the first's.
func Line(ahead, riders int) float64 { return 1 - lineLee(ahead, riders) }

func lineLee(ahead, riders int) float64 {
	wakes, pushes := wakes(), pushes()
	ahead = placed(ahead, riders)
	return wakes[min(ahead, mostAhead)] + pushes[min(max(riders, 1)-1-ahead, mostBehind)]
}

// placed brings a place into a group.
func placed(ahead, riders int) int { return max(min(ahead, riders-1), 0) }
