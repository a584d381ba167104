// Package race rides a field of riders over a road together, in time: who shelters, who
// works, who is dropped, who sprints.
//
// # Motion
//
// Every rider moves by the equation of package ride (Martin et al. 1998), here in time,
//
//	(m + I/r²)·dv/dt = ηP/v − ½ρ·f·(CdA + Fw)·v_air·|v_air| − Crr·m·g·cos θ − (b₀ + b₁·v) − m·g·sin θ
//
// with steps of at most 1 s by the exponential midpoint rule. f is the drag over the drag
// alone, from package shelter: by the number of riders of the group ahead and behind, by how
// wide the group rides, and by the gaps before a rider, each of which cuts the lee of all
// ahead of it. A rider alone takes the time of a prediction to 0.04 % on the season's
// courses and to 0.05 % on 400 generated ones; where gravity's pull changes, near bends and
// near the speed above which nobody pedals, steps are divided. On waves of 23 % that end in
// walking pace it is off by up to 0.3 %.
//
// # Groups
//
// Riders are one group as long as none is more than 20 m behind the wheel ahead. A bunch
// rides as wide as Rules.Abreast at up to 11 m/s, in one line from 17 m/s on. One rider
// makes the pace; the others take their places behind, each passing every place as long
// after the pacer as the wheels between them take: bends, crests and dips are gone through
// at the pacer's speed, not chased after.
//
// # What riders do
//
// Each decides at the start of a step, by what is there. A rider
//
//   - starts by the own effort, up to 6 m/s,
//   - keeps a wheel with at most CP + (W − 5 % W′₀)/40 s: W′ is spent ever more slowly, and
//     with it gone the wheel goes,
//   - makes the pace, if willing, with the own effort and what W′ above 60 % gives within
//     90 s, takes turns of about 45 s, and rests for as many turns as there are others,
//   - comes through where the pace takes less than the own effort, or than 1/1.07 of the
//     own turn,
//   - chases a group less than 100 m ahead with W′ above 30 %,
//   - begins 600 s before the finish to spend W′ above 30 % evenly,
//   - takes a place in the group by lot from 180 s before the finish, and sprints from about
//     12 s before it, with all that W′ allows: ride.Rider.PowerLimitW; who is told to, or
//     led out, does so as early as W′ lasts, at most 6 s earlier,
//   - contests other lines likewise, from the first twenty places, with W′ above 40 %.
//
// Orders change that. All numbers of these lists are common practice put into numbers;
// none has a source. Shelter, motion and W′ have.
//
// Half the step moves the gap between two riders, of whom one is dropped on a steady climb,
// by less than 0.1 s, and the mean gaps at the end of a climb of 4 km by 0.1 to 0.6 s on
// average over the field. Where somebody hangs on by a thread over many crests and turns,
// the step can decide on which of them the thread breaks, as a gust of wind could; the gap
// then differs by all that is lost from there on. What many runs come to moves by less than
// their sampling error.
//
// # Luck
//
// Runs differ by the day's form (critical power, maximal power and the effort together, W′
// on its own), the places at the start and before the finish, the launches, the turns, who
// answers an attack, mishaps, and who among those without orders sits in. Each has a stream
// of chance of its own by the run's number and by the entrant's name, or for those without
// one of their own by all that they are, so that the order in which entrants are given never
// shows. A field of one has no luck, no rivals and no limits:
// it rides its effort as asked.
package race
