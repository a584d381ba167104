package engine

import "parcours.example/analysis/track"

// This file holds every limit of the contract's x-limits that code enforces, or leads to it:
// Limits, of which tests and embedders may choose smaller ones, the constants below, and
// those that a package of the analysis owns because its work sets them (aid.MostAids,
// course.LongestM, course.MostNodes, picture.MostRides and track.DefaultLimits). The other
// limits are bounds in the contract's schemas, which requests are held against as they stand.

// The limits of a request as it is sent.
const (
	// MostHeaderBytes bounds a request's line and header fields, unless configured otherwise.
	MostHeaderBytes = 64 << 10
	// MostBodyBytes bounds a body as it is sent, with its codings.
	MostBodyBytes = 32 << 20
	// MostCodings bounds the codings of a body, one on top of the other. What it decodes to
	// is bounded by track.Limits.Unpacked.
	MostCodings = 2
	// MostWindowBytes bounds the window of the zstd coding; encoders of HTTP content keep to
	// it (RFC 9659, 3).
	MostWindowBytes = 8 << 20
	// MostJSONDepth bounds how deep values of JSON may stand inside each other.
	MostJSONDepth = 32
	// MostJSONNames bounds the names in one object of JSON; the contract has far fewer.
	MostJSONNames = 100
	// MostJSONNameBytes bounds each of them as it is written.
	MostJSONNameBytes = 100
	// MostJSONValues is how many values, those of long lists aside, a request may have for
	// all its faults to be looked for; of a larger one the first is told.
	MostJSONValues = 10_000
	// MostFaults is how many faults of a request a problem lists.
	MostFaults = 32
	// DefaultHeldBytes is the budget of Config.HeldBytes.
	DefaultHeldBytes = 256 << 20
)

// The limits of what is asked.
const (
	// PlanCost is the number of predictions that a plan is counted as: about what it takes
	// more of the machine.
	PlanCost = 50
	// AidCost is the number of predictions that an aid of up to a minute is counted as, for
	// each rider on each set-up.
	AidCost = 20
	// MostAidPasses bounds the passes that earn aids, all aids together.
	MostAidPasses = 2000
	// MostRiders is the largest field.
	MostRiders = 200
	// MostOrders bounds the orders of a rider, each pass counted.
	MostOrders = 60
	// MostScores bounds the scores of all contests together, each pass counted.
	MostScores = 200
	// MostRows bounds the rows of an itinerary.
	MostRows = 5000
	// MostRounds bounds the rounds of a season.
	MostRounds = 500
	// MostEntries bounds the entries of an archive, those that are passed over too.
	MostEntries = 10_000
)

// Limits bound what a single request may hold. Beyond one of them a request is
// refused with CodeTooMany and both numbers.
type Limits struct {
	// Track bounds a route file; its zero values stand for the defaults as well. Bodies
	// decode to at most as much as files may unpack to.
	Track track.Limits
	// ProfileSamples bounds a table of distance and elevation.
	ProfileSamples int
	// Predictions bounds riders × set-ups, each plan counted as PlanCost.
	Predictions int
	// PlanSamples bounds plans × samples of the road, which their time goes with.
	PlanSamples int
	// Launches bounds passes of sprint lines × riders × set-ups.
	Launches int
	// Splits bounds predictions × parts and passes, Samples predictions × samples of
	// a trace, where traces are asked for. They keep an answer's size in hand.
	Splits, Samples int
	// RiderSteps bounds the steps of all riders in all runs of a race, about, RiderLines
	// riders × lines that are told.
	RiderSteps, RiderLines int
	// RideSteps bounds predictions × samples of the road, those of aids and comparisons too,
	// which their time goes with.
	RideSteps int
	// ComparisonRides bounds the rides of a comparison, each plan counted as PlanCost.
	ComparisonRides int
	// SeasonBytes bounds the body of a season and what it unpacks to, SeasonPredictions rounds ×
	// riders × set-ups, each plan counted as PlanCost, Seasons how many are under way at a time.
	SeasonBytes, SeasonPredictions, Seasons int
}

// DefaultLimits returns the limits that the contract states.
func DefaultLimits() Limits {
	return Limits{
		Track: track.DefaultLimits(), ProfileSamples: 100_000,
		Predictions: 1000, PlanSamples: 400_000, Launches: 300, Splits: 500_000, Samples: 2_000_000,
		RiderSteps: 300_000_000, RiderLines: 40_000, RideSteps: 300_000_000, ComparisonRides: 5000,
		SeasonBytes: 512 << 20, SeasonPredictions: 100_000, Seasons: 8,
	}
}

// complete fills in the limits left at 0.
func (l Limits) complete() Limits {
	full := DefaultLimits()
	for _, pair := range []struct{ limit, otherwise *int }{
		{&l.Track.Bytes, &full.Track.Bytes},
		{&l.ProfileSamples, &full.ProfileSamples},
		{&l.Predictions, &full.Predictions},
		{&l.PlanSamples, &full.PlanSamples},
		{&l.Launches, &full.Launches},
		{&l.Splits, &full.Splits},
		{&l.Samples, &full.Samples},
		{&l.RiderSteps, &full.RiderSteps},
		{&l.RiderLines, &full.RiderLines},
		{&l.RideSteps, &full.RideSteps},
		{&l.ComparisonRides, &full.ComparisonRides},
		{&l.SeasonBytes, &full.SeasonBytes},
		{&l.SeasonPredictions, &full.SeasonPredictions},
		{&l.Seasons, &full.Seasons},
	} {
		if *pair.limit == 0 {
			*pair.limit = *pair.otherwise
		}
	}
	return l
}
