package terrain

// The definitions of what is reported. A stretch of road scores
//
//	gain − g0·length
//
// and climbs are the maximal-scoring stretches (Ruzzo & Tompa 1999) of the profile:
// those that score less when anything is cut off them and that can't be joined
// with more road to a stretch of the same kind. Joining across a dip follows from
// that: two rises are one climb if the dip costs less than either of them scores.
// Descents are the same on the profile turned upside down.
const (
	// climbThreshold is g0, the gradient a road must exceed to score.
	climbThreshold = 0.02
	// minScoreM is the least score of what is reported, in metres: 100 m at 10 %,
	// 400 m at 4 %.
	minScoreM = 8
	// minMeanGradient is the least mean gradient of what is reported. A maximal
	// stretch below it (a stage that rises 1000 m over 40 km) is a rise of the land
	// and no climb; it is searched again with this gradient as g0, so that the
	// climbs in it stand on their own.
	minMeanGradient = 0.03
	// innerThreshold is g0 for the steep parts within a climb. They score
	// minScoreM with it, and are at most innerMaxLength of the climb's length and
	// at least innerMinGain of its gain; shorter pitches are told by the sections.
	innerThreshold = 0.06
	innerMaxLength = 0.7
	innerMinGain   = 1.0 / 3
	// partedThreshold takes its place where nothing is as steep and two rises or
	// more are left: what a rider calls two climbs, of which the definition makes
	// one as long as the flat between them costs less than either scores.
	partedThreshold = 0.04
	// indifferenceM is the difference of elevation, in metres, that decides
	// nothing, so that results don't hang on the last bit of a sum.
	indifferenceM = 1e-6
)

// What makes a false flat, by the same search outside climbs.
const (
	// falseFlatThreshold is g0 for false flats; as that of climbs, it lies a little
	// below the least mean gradient, so that a short rest doesn't end one.
	falseFlatThreshold = 0.005
	// minFalseFlat and minMeanGradient bound a false flat's mean gradient,
	// minFalseFlatM its length in metres from below.
	minFalseFlat  = 0.01
	minFalseFlatM = 500
)

// What makes two stretches the same ground, and where a stretch belongs.
const (
	// sameGround is the share of the longer of two stretches that they must have
	// in common, boundsSlackM how far in metres both their ends may differ instead.
	sameGround   = 0.8
	boundsSlackM = 50
	// endReachM is how much of the ends of a stretch need not be recognised on
	// another pass, in metres.
	endReachM = 100
	// enoughWitnesses is how many stretches that were detected on their own need to
	// have seen another one on their ground for it to need no look of its own.
	enoughWitnesses = 5
	// lapSlackM is how far before a lap's line a pass may start and still be said
	// to start on that lap; a line is known no better.
	lapSlackM = 20
	// finishSlackM is how near to the end of the course a climb must end to end at
	// the finish.
	finishSlackM = 50
	// summitReachM is how far from a climb's top its summit's mark may lie.
	summitReachM = 200
)

// What makes a section of a climb.
const (
	// maxSections bounds what a rider can keep in mind.
	maxSections = 6
	// minSectionM and minSectionShare (of the climb) bound a section's length from
	// below, in metres and as a share.
	minSectionM     = 50
	minSectionShare = 0.05
	// sectionPenaltyM is what a further section must explain: the squared
	// difference of gradient times length, in metres. 0.03 m are two points over
	// 150 m between much longer neighbours, twice.
	sectionPenaltyM = 0.03
	// sectionPenaltyShare is the same as a share of all that a single section
	// leaves unexplained, so that a restless road isn't cut up for its own sake.
	sectionPenaltyShare = 0.04
	// sectionNodes bounds the nodes among which boundaries are first sought.
	sectionNodes = 300
)

// The other measures.
const (
	// maxGradientWindowM is the least window of a maximum gradient.
	maxGradientWindowM = 25
	// bendRadiusM, bendEndsM and bendTurnDeg make a bend: curvature of one sign,
	// somewhere tighter than the first radius and everywhere tighter than the second
	// (so that noise doesn't cut a bend in two, nor its turn short), turning at
	// least so far.
	bendRadiusM = 100
	bendEndsM   = 300
	bendTurnDeg = 25
	// sharpestBends is how many bends of a descent are told.
	sharpestBends = 5
	// markGradientM is the length before a mark over which its gradient is taken.
	markGradientM = 100
	// rollingRiseM is the least rise outside climbs that counts, in metres.
	rollingRiseM = 3
	// steadyCellM is the length over which gradients are averaged for the longest
	// steady stretch, steadyTolerance how far they may be from its mean, and
	// steadyCells the number of cells beyond which they get longer.
	steadyCellM     = 100
	steadyTolerance = 0.01
	steadyCells     = 2000
)
