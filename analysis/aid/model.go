package aid

// Model says in plain sentences what the computation supposes.
func Model() []string {
	return []string{
		"From its use on an aid multiplies the drag of what meets the air by its drag_factor and adds mass_change_kg to the mass, for duration_s; a change of mass keeps the speed, not the kinetic energy.",
		"The rider gives the same power at each place with and without an aid; freewheeling downhill, bends and brakes count as in any ride.",
		"The ride goes on after the aid until its speed is that of the plain ride again: speed carried into a climb is part of the gain.",
		"A rider holds at most one earned aid: a pass of a gate earns one where none is held, and nothing where one is. Where a pass offers several, the plan takes the one that suits it; where the event draws it, that is the best that can come. Aids without available_from are in hand at the start, once, beside the one that is held.",
		"One aid works at a time: the joint use starts one when the one before has ended.",
		"Riders around the user do nothing about it: who has shelter behind the user on the way gets back what the user gained. Metres at a line are against a rider who arrives alike, without an aid, at the power asked there: who sprints says so by an effort in steps.",
		"A follower is a rider alike on a like set-up, alone behind the user at follower_gap_m between the wheels, in the lee that Olds (1998) gives for two riders; its power is that which kept the wheel before, and the gap that opens takes more of the lee.",
		"Gains within 5 % of each other are told as equal: drag areas and powers are not known better.",
	}
}
