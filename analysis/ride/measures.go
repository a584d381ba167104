package ride

import (
	"math"

	"parcours.example/analysis"
	"parcours.example/analysis/elementary"
)

const gravity = analysis.Gravity

// ride sums up the record.
func (r *record) ride(rider Rider, spans []Span) *Ride {
	t := &r.trace
	ride := &Ride{
		TimeS: r.clock, DistanceM: r.road.LengthM(), RoadLengthM: r.ridden,
		MeanSpeedMps: r.road.LengthM() / r.clock, MaxSpeedMps: r.speed(r.highest),
		MeanPowerW: r.work / r.clock, WorkJ: r.work,
		FourthPowerMeanW: fourthPowerMean(t.TimeS, r.workJ),
		Energy:           r.account,
		MeanYawDeg:       r.meanYaw(),
		Feasible:         true,
		Splits:           r.splits(spans),
		Bike:             *r.bike,
		turns:            r.turns, workJ: r.workJ,
	}
	if reserve, ok := NewReserve(rider); ok {
		t.WBalanceJ = reserve.Balances(t.TimeS, t.PowerW)
		ride.Balance = lowest(t)
		ride.Feasible = ride.Balance.MinJ >= -roundingJ
	}
	ride.Trace = *t
	return ride
}

// roundingJ is the balance in J that counts as zero.
const roundingJ = 1e-6

// lowest finds the lowest balance. Within an interval of constant power the balance
// goes one way, so that it is at a sample.
func lowest(t *Trace) *Balance {
	w := t.WBalanceJ
	b := &Balance{EndJ: w[len(w)-1], MinJ: w[0]}
	for i, j := range w {
		if j < b.MinJ {
			b.MinJ, b.MinAtM = j, t.DistanceM[i]
		}
	}
	return b
}

// averagingS is the length of the trailing mean.
const averagingS = 30

// fourthPowerMean returns the fourth root of the mean over the whole seconds of the
// fourth power of the power averaged over the last 30 s, or since the start. Rides of
// less than a second have their mean power.
func fourthPowerMean(timeS, workJ []float64) float64 {
	last := len(timeS) - 1
	seconds := int(timeS[last])
	if seconds == 0 {
		return workJ[last] / timeS[last]
	}
	var done [averagingS]float64 // work at the last 30 whole seconds
	sum, i := 0.0, 0
	for k := 1; k <= seconds; k++ {
		for i < last-1 && timeS[i+1] < float64(k) {
			i++
		}
		f := (float64(k) - timeS[i]) / (timeS[i+1] - timeS[i])
		work := workJ[i] + float64((workJ[i+1]-workJ[i])*f)
		mean := (work - done[k%averagingS]) / float64(min(k, averagingS))
		done[k%averagingS] = work
		sum += float64(mean * mean * mean * mean)
	}
	return math.Sqrt(math.Sqrt(sum / float64(seconds)))
}

// meanYaw returns the time-mean of the angle between the flow of the air and the
// direction of travel in degrees, by the mean speed between samples.
func (r *record) meanYaw() float64 {
	t := &r.trace
	sum, piece := 0.0, 0
	for i := 1; i < len(t.TimeS); i++ {
		for r.road.Pieces[piece].EndM < t.DistanceM[i]-tinyM {
			piece++
		}
		p := &r.road.Pieces[piece]
		if p.CrosswindMps == 0 && p.HeadwindMps >= 0 {
			continue
		}
		v := (t.SpeedMps[i-1] + t.SpeedMps[i]) / 2
		yaw := math.Abs(elementary.Atan2(p.CrosswindMps, v+p.HeadwindMps))
		sum += float64(yaw * (t.TimeS[i] - t.TimeS[i-1]))
	}
	return sum / r.clock * 180 / math.Pi
}
