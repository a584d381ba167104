package brief

// The cautions, most needed first. The first is short and stays at any limit.
func (w writer) cautions() block {
	cautions := []string{"Indoors: the event's rules first; stop when you feel unwell."}
	if !w.in.Indoor {
		cautions = []string{"Closed roads or indoors only: law, rules and marshals first."}
		cautions = append(cautions, "Bends and descents are estimates from the line in the file: look at the road itself.")
	}
	cautions = append(cautions,
		"Maximal efforts are for healthy, trained people; in doubt, ask a physician.")
	cautions = append(cautions, w.answerCautions()...)
	if len(w.in.Rides) > 0 {
		cautions = append(cautions, "Predicted times come from a model of the ride, not from the day.")
	}
	b := block{kind: cautionBlock}
	for i, c := range cautions {
		rank := rankCaution
		if i == 0 {
			rank = rankAlways
		}
		b.lines = append(b.lines, []said{{rank, words(c)}})
	}
	return b
}
