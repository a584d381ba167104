package launch

import (
	"math"

	"parcours.example/analysis/ride"
)

// head is the bike at the head of the line of riders, with the drag that it has there: a rider of 75 kg and 1.80 m on an
// all-round set-up. For a given speed its size matters only where the gradient changes.
func head() (ride.Bike, error) {
	unknown := math.NaN()
	return ride.NewBike(
		ride.Rider{MassKg: 75, HeightM: 1.80, CdAM2: unknown, CriticalPowerW: unknown, WPrimeJ: unknown, MaxPowerW: unknown, RecoveryRate: unknown, GrossEfficiency: unknown},
		ride.Setup{
			MassKg: unknown, CdAM2: unknown, CdAChangeM2: unknown, Crr: unknown, DrivetrainEfficiency: unknown, WheelInertiaKgM2: unknown,
			WheelRadiusM: unknown, WheelDragAreaM2: unknown, BearingN: unknown, BearingNsPerM: unknown,
		},
		ride.Conditions{Shelter: PlaceShelter(1)},
	)
}

// moment is when the head of the line passes a place, and how fast.
type moment struct{ timeS, speedMps float64 }

// pace is the way of the head of the line: the moments at the starts of the cells and at the
// line.
type pace struct {
	cells   []cell
	moments []moment
	inertia float64
	// wheelW is the power at the wheel.
	wheelW float64
}

// lead rides the head of the line over the cells at a power at the wheel.
func lead(cells []cell, bike *ride.Bike, speedMps, wheelW float64) (*pace, error) {
	p := &pace{cells: cells, inertia: bike.InertiaKg, wheelW: wheelW, moments: make([]moment, 1, len(cells)+1)}
	now := moment{0, speedMps}
	p.moments[0] = now
	for i := range cells {
		now = p.after(i, now, cells[i].roadM)
		if !(now.speedMps >= slowestMps) {
			return nil, halted(cells[i].startM)
		}
		p.moments = append(p.moments, now)
	}
	return p, nil
}

// halted says that somebody comes to a halt, at a distance from the start of the approach.
func halted(atM float64) error {
	return &ride.Error{Code: ride.CodeCannotClimb, AtM: atM, Detail: "the road to the line is too steep for this approach: the speed falls below 0.5 m/s"}
}

// after returns the moment roadM metres of road into cell i, from the one at its start.
func (p *pace) after(i int, from moment, roadM float64) moment {
	r := &p.cells[i].head
	now := from
	n := substeps(r, p.inertia, p.wheelW, from.speedMps, roadM, 0)
	h := roadM / float64(n)
	slope := func(energy float64) (perM, slowness float64) {
		v := math.Sqrt(energy * 2 / p.inertia)
		return p.wheelW/v - r.Force(v), 1 / v
	}
	energy := 0.5 * p.inertia * from.speedMps * from.speedMps
	for range n {
		k1, t1 := slope(energy)
		k2, t2 := slope(energy + float64(h/2*k1))
		k3, t3 := slope(energy + float64(h/2*k2))
		k4, t4 := slope(energy + float64(h*k3))
		energy += float64(h / 6 * (k1 + float64(2*(k2+k3)) + k4))
		now.timeS += float64(h / 6 * (t1 + float64(2*(t2+t3)) + t4))
	}
	now.speedMps = math.Sqrt(energy * 2 / p.inertia)
	return now
}

// mostRelaxation bounds a step by the share of its imbalance of forces that a bike loses in it.
const mostRelaxation = 0.25

// mostSubsteps bounds the steps in a cell.
const mostSubsteps = 256

// substeps returns into how many steps a stretch of road must be cut to be integrated well
// at a speed, where the power's own rate of decay is decay in 1/s.
func substeps(r *ride.Resistance, inertia, wheelW, v, roadM, decay float64) int {
	rate := ((wheelW/(v*v)+r.Slope(v))/inertia + decay) / v
	return int(min(max(math.Ceil(roadM*rate/mostRelaxation), 1), mostSubsteps))
}

// passing returns when the head is roadM metres of road into cell i: the cubic through the
// moments at its ends.
func (p *pace) passing(i int, roadM float64) float64 {
	from, to, h := p.moments[i], p.moments[i+1], p.cells[i].roadM
	x := roadM / h
	y := 1 - x
	ends := float64(from.timeS*y*y*(1+2*x)) + float64(to.timeS*x*x*(1+2*y))
	return ends + float64(h*x*y*float64(y/from.speedMps-x/to.speedMps))
}
