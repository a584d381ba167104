package calibrate

// Words tell which ride it is, in a sentence.
func (t Trial) Words() string {
	switch t.Kind {
	case Slower:
		return "Ride the course once more at about 60 % of the speed, on the same set-up and in the same position: rolling resistance counts for more there."
	case Reversed:
		return "Ride the same road in the other direction, on the same day: a wind that isn't known and wrong elevations cancel."
	case Again:
		return "Ride the same once more: the errors get smaller with every ride."
	}
	return ""
}
