package ride

// deviation is a ride's inputs less what they were taken for, in the units and senses
// of Uncertainties.
type deviation Uncertainties

// leastMassKg keeps a mass that deviates above zero.
const leastMassKg = 1.0

// bike returns the bike that deviates, sheltered as it was.
func (d deviation) bike(b Bike, shelter float64) Bike {
	mass := max(d.MassKg, leastMassKg-b.MassKg)
	b.MassKg += mass
	b.InertiaKg += mass
	cda := max(d.CdAM2, -b.CdAM2)
	b.CdAM2 += cda
	b.DragAreaM2 += float64(cda * shelter)
	b.Crr = max(b.Crr+d.Crr, 0)
	b.Efficiency = min(max(b.Efficiency+d.Efficiency, leastEfficiency), 1)
	return b
}

// road returns the road in the air and wind that deviate.
func (d deviation) road(r *Road) *Road {
	if d.WindMps == 0 && d.TemperatureC == 0 {
		return r
	}
	other := *r
	other.Pieces = make([]Piece, len(r.Pieces))
	warmth, zM := r.warmth(), r.course.ElevationAt(0)
	for i := range r.Pieces {
		p := r.Pieces[i]
		p.HeadwindMps += float64(d.WindMps * r.windward(&p))
		p.AirDensityKgM3 *= 1 + float64(d.TemperatureC*warmth.at(zM+float64(p.rise()/2)))
		zM += p.rise()
		other.Pieces[i] = p
	}
	return &other
}

// steps returns the steps with the power that deviates.
func (d deviation) steps(steps []Step) []Step {
	factor := max(1+d.PowerPct/100, 0)
	other := make([]Step, len(steps))
	for i, s := range steps {
		other[i] = Step{s.EndM, s.PowerW * factor}
	}
	return other
}
