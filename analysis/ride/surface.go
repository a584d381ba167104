package ride

import (
	"context"
	"errors"
	"math"

	"parcours.example/analysis/elementary"
)

// surface is a ride's time over two independent standard normal errors: u along the way
// on which the time changes most, n across it where the wind's part lies, on which it
// doesn't change to first order:
//
//	T = timeS + slope·u + ½·bend·u² + twist·u·n + ½·across·n²
type surface struct{ timeS, slope, bend, twist, across float64 }

// through lays the surface through the times at −z, 0 and z on the way, of which one may
// be NaN where the rider comes to a halt: the slope at 0 is then sd.
func through(lowS, timeS, highS, z, sd float64) surface {
	s := surface{timeS: timeS, slope: (highS - lowS) / (2 * z), bend: (highS - timeS + lowS - timeS) / float64(z*z)}
	switch {
	case math.IsNaN(highS):
		s.slope, s.bend = sd, 2*(lowS-timeS+float64(sd*z))/float64(z*z)
	case math.IsNaN(lowS):
		s.slope, s.bend = sd, 2*(highS-timeS-float64(sd*z))/float64(z*z)
	}
	return s
}

// farSD is how far across the curvature is measured, in standard deviations, leastAcross
// the least part of the wind's direction that counts as across.
const (
	farSD       = 1.5
	leastAcross = 0.01
)

// curve measures the wind's curvature across by a further ride.
func (s *surface) curve(ctx context.Context, b *Band, r *Ride, road *Road, from []source) error {
	wind := from[bySourceWind]
	along := wind.perSD / b.SDS
	across := math.Sqrt(max(1-float64(along*along), 0))
	if wind.sd == 0 || road.Conditions.Indoor || across < leastAcross {
		return nil
	}
	var d deviation
	for i, f := range from {
		n := -along * f.perSD / b.SDS
		if i == bySourceWind {
			n++
		}
		*f.of(&d) = farSD * f.sd * n / across
	}
	timeS, err := r.deviated(ctx, road, d)
	var halt *Error
	switch {
	case errors.As(err, &halt) && halt.Code == CodeCannotClimb:
		return nil
	case err != nil:
		return err
	}
	s.across = 2 * (timeS - r.TimeS) / (farSD * farSD)
	s.twist = s.across * along / across
	return nil
}

// The quadrature across: the trapezoidal rule, which converges exponentially for what is
// weighted by a normal density.
const (
	mostAcross = 6.0
	acrossStep = 0.25
)

// below returns the probability that the time is at most timeS.
func (s *surface) below(timeS float64) float64 {
	if s.across == 0 {
		return s.belowAt(timeS-s.timeS, 0)
	}
	sum, weights := 0.0, 0.0
	for n := -mostAcross; n <= mostAcross; n += acrossStep {
		weight := elementary.Exp(-n * n / 2)
		sum += float64(weight * s.belowAt(timeS-s.timeS, n))
		weights += weight
	}
	return sum / weights
}

// belowAt returns the probability that the time is at most excessS above timeS at one
// place across.
func (s *surface) belowAt(excessS, n float64) float64 {
	a, b := s.bend/2, s.slope+float64(s.twist*n)
	c := float64(s.across*n*n/2) - excessS
	root := float64(b*b) - float64(4*a*c)
	// The roots without cancellation; a straight line has but one.
	q := -(b + math.Copysign(math.Sqrt(max(root, 0)), b)) / 2
	if root < 0 || q == 0 { // all on one side
		if a > 0 || (a == 0 && c > 0) {
			return 0
		}
		return 1
	}
	near, far := normal(c/q), normal(q/a)
	switch {
	case a == 0 && b > 0:
		return near
	case a == 0:
		return 1 - near
	case a > 0:
		return math.Abs(far - near)
	}
	return 1 - math.Abs(far-near)
}

// normal is the cumulative standard normal distribution.
func normal(x float64) float64 { return elementary.Erfc(-x/math.Sqrt2) / 2 }

// quantile returns the time that isn't exceeded with a probability, to 10⁻⁷ of what the
// errors may move it.
func (s *surface) quantile(probability float64) float64 {
	const most = 10.0
	curved := math.Abs(s.bend) + math.Abs(s.across) + float64(2*math.Abs(s.twist))
	reach := float64(most*math.Abs(s.slope)) + float64(most*most*curved/2)
	low, high := s.timeS-reach, s.timeS+reach
	for range 34 {
		mid := (low + high) / 2
		if s.below(mid) < probability {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}
