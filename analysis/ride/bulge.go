package ride

import (
	"context"
	"errors"
	"math"
)

// bulge is what the curvature across the most probable way does to the quantiles. With u
// along the way and n across it, both standard normal,
//
//	T = g(u) + twist·u·n + ½·across·n²,  g′ ≈ sd
//
// and the quantile of T at z is, to second order in the latter two (Gouriéroux,
// Laurent, Scaillet 2000, J. Empir. Finance 7:225–245; from memory),
//
//	g(z) + m − (φV)′(z)/(2·sd·φ(z))
//
// with the mean m = ½·across and the variance V = twist²·u² + ½·across² of what is added.
type bulge struct{ sd, across, twist float64 }

// farSD is how far across the curvature is measured, in standard deviations.
const farSD = 1.5

// leastAcross is the least part of the wind's direction that counts as across.
const leastAcross = 0.01

// bulge measures the wind's curvature across the way on which the time changes most: to
// first order the time doesn't change there.
func (b *Band) bulge(ctx context.Context, r *Ride, road *Road, from []source) (bulge, error) {
	wind := from[bySourceWind]
	along := wind.perSD / b.SDS
	across := math.Sqrt(max(1-float64(along*along), 0))
	if wind.sd == 0 || road.Conditions.Indoor || across < leastAcross {
		return bulge{sd: b.SDS}, nil
	}
	var d deviation
	for i, s := range from {
		n := -along * s.perSD / b.SDS
		if i == bySourceWind {
			n++
		}
		*s.of(&d) = farSD * s.sd * n / across
	}
	timeS, err := r.deviated(ctx, road, d)
	var halt *Error
	if errors.As(err, &halt) && halt.Code == CodeCannotClimb {
		return bulge{sd: b.SDS}, nil
	}
	curvature := 2 * (timeS - r.TimeS) / (farSD * farSD)
	return bulge{sd: b.SDS, across: curvature, twist: curvature * along / across}, err
}

// shift returns what is added to the quantile at z, in s.
func (b bulge) shift(z float64) float64 {
	twist := float64(b.twist * b.twist)
	variance := float64(twist*z*z) + float64(b.across*b.across/2)
	return float64(b.across/2) + float64(z*(float64(variance/2)-twist))/b.sd
}
