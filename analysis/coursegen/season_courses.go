package coursegen

import (
	"math"
	"math/rand/v2"

	"parcours.example/analysis/track"
)

// criterium is 25 laps of 1.2 km round the quays of a small town, nearly flat.
func criterium() drawing {
	road := spline(
		point{}, point{E: 90}, point{E: 180, N: 4}, point{E: 262, N: 12}, point{E: 290, N: 60}, point{E: 282, N: 130},
		point{E: 240, N: 168}, point{E: 170, N: 172}, point{E: 128, N: 200}, point{E: 110, N: 262}, point{E: 70, N: 296},
		point{E: 10, N: 284}, point{E: -26, N: 230}, point{E: -44, N: 140}, point{E: -48, N: 56}, point{E: -40, N: 14}, point{},
	).scaled(1200)
	road = road.graded(186.0371, 186.0371, slope{260, 0.4}, slope{240, 1.9}, slope{180, -0.6}, slope{220, -2.2})
	lo := laps(nil, road, 25, nil)
	return drawing{
		name: "quellmere-criterium", title: "Quellmere Criterium", lat: 47.3413, lon: 3.0787, layout: lo, oneLap: true,
		marks: []placedMark{{"Quay Street line", track.Gate, 0}, {"Sprint at Cooper's Yard", track.Sprint, 640}},
		recordings: []Recording{
			recorded(1101), barometric(1102), rounded(1103),
		},
	}
}

// figureEight is 8 laps of 6.4 km that cross themselves at a roundabout.
func figureEight() drawing {
	road := spline(
		point{}, point{E: 300, N: 260}, point{E: 720, N: 420}, point{E: 1130, N: 330}, point{E: 1330, N: 20}, point{E: 1180, N: -330},
		point{E: 760, N: -430}, point{E: 330, N: -240}, point{}, point{E: -290, N: 210}, point{E: -650, N: 520}, point{E: -1060, N: 480},
		point{E: -1290, N: 150}, point{E: -1150, N: -280}, point{E: -700, N: -390}, point{E: -280, N: -230}, point{},
	).scaled(6400)
	road = road.graded(243.0643, 243.0643, slope{500, 0.5}, slope{700, 4.2}, slope{400, 1.0}, slope{900, -3.2},
		slope{800, 0.2}, slope{350, 6.1}, slope{250, 2.0}, slope{600, -2.5}).rolling(0.8, 420)
	road = road.from(5500)
	return drawing{
		name: "hoskerrow-eight", title: "Hoskerrow Figure Eight", lat: 47.2876, lon: 3.2391, layout: laps(nil, road, 8, nil), oneLap: true,
		marks: []placedMark{{"Hoskerrow line", track.Gate, 0}, {"Top of Pelgrane Lane", track.Summit, 2110}, {"Sprint at Yarnholt mill", track.Sprint, 5100}},
		recordings: []Recording{
			recorded(1201), barometric(1202), rounded(1203),
		},
	}
}

// lapsAndClimb is a lead-in of 3 km, 5 laps of 7.4 km, half a lap more and a
// climb of 4.2 km to the line: 6.7 % on average, with three sections that hold
// pitches of 17, 18 and 19 %. About three quarters of its ascent come before it.
func lapsAndClimb() drawing {
	const junction = 268.0519
	circuit := star{
		amplitude: []float64{0.12, 0.25, 0.18, 0.10}, phase: []float64{0.4, 2.1, 4.4, 1.2},
		scale: 1100, length: 7400,
	}
	circuit.scale *= 7400 / circuit.outline().lengthM()
	road := circuit.road().graded(junction, junction, slope{500, 1.0}, slope{900, 5.6}, slope{500, -1.5}, slope{450, 7.2},
		slope{900, -4.1}, slope{700, 0.4}, slope{600, 6.0}, slope{400, 0.2}, slope{300, 4.0}).rolling(1.1, 380)
	leadIn := circuit.approach(rand.New(rand.NewPCG(13, 1)), 3100, 0)
	leadIn = leadIn.graded(231.0127, junction, slope{700, 0.4}, slope{600, 2.6}, slope{400, -1.2}).rolling(0.7, 350)

	leave := 3700
	exit := road[leave]
	up := newPen(exit, circuit.angleOf(exit)*180/math.Pi)
	up.straight(400).bend(300, 35).bend(300, -50).straight(450).bend(60, 150).straight(380).bend(60, -155).straight(420)
	up.bend(250, 30).bend(60, 140).straight(400).bend(60, -150).straight(500).bend(400, 40).bend(300, -30).straight(640)
	climb := up.path.graded(exit.Z, 0, approachAndClimb()...)
	lo := laps(leadIn, road, 5, join(road[:leave+1], climb))
	start := lo.starts[0]
	return drawing{
		name: "morvask-laps-and-climb", title: "Morvask Circuit and Wall", lat: 47.4122, lon: 3.1544, layout: lo, oneLap: true,
		marks: []placedMark{
			{"Morvask gate", track.Gate, start},
			{"Summit of Undlebeck", track.Summit, start + 2360},
			{"Sprint at Tindrake", track.Sprint, start + 4300},
			{"Feed at Zessel barn", track.Feed, start + 6600},
			{"Summit of the Wall", track.Summit, len(lo.path) - 1},
		},
		recordings: []Recording{
			recorded(1301), barometric(1302), rounded(1303),
		},
	}
}

// approachAndClimb leads gently to the foot and then up the finishing climb.
func approachAndClimb() []slope {
	return []slope{
		{780, 0.6},                                             // to the foot
		{420, 5.5}, {160, 9}, {70, 17}, {120, 8.5}, {350, 4.8}, // first section
		{300, 2.2}, {280, 6.5}, {140, 10}, {80, 18}, {180, 9}, {400, 5}, // second
		{330, 1.4}, {250, 6}, {200, 9}, {60, 19}, {220, 9.5}, {900, 4.6}, // third
	}
}

// timeTrial goes out for 12 km, round a cone, and comes back on the same road.
func timeTrial() drawing {
	out := newPen(point{}, 62)
	out.straight(900).bend(500, 25).straight(1400).bend(700, -48).straight(1100).bend(400, 20).straight(900).bend(600, 34)
	out.straight(1700).bend(500, -40).straight(800).bend(450, 28).straight(2050)
	road := out.path.graded(158.0833, 189.0417, slope{1500, 0.5}, slope{1100, 1.8}, slope{900, -1.1}, slope{2200, 0.4}, slope{800, 2.3},
		slope{700, -2.4}, slope{1600, 0.2}, slope{900, 2.2}, slope{700, -1.6}).rolling(1.6, 700)
	lo := layout{path: join(road, road.reversed()), shape: "out_and_back"}
	return drawing{
		name: "brambleseth-time-trial", title: "Brambleseth Time Trial", lat: 47.2251, lon: 3.0312, layout: lo,
		marks: []placedMark{{"Start and finish", track.Gate, 0}, {"Gate at Carrowind bridge", track.Gate, 6200}, {"Turn", track.Gate, len(road) - 1}},
		recordings: []Recording{
			recorded(1401), barometric(1402), rounded(1403),
		},
	}
}

// mountainStage runs over four climbs from one valley to another, 108 km.
func mountainStage() drawing {
	rng := rand.New(rand.NewPCG(15, 7))
	road := path{{}}
	for _, leg := range []struct{ lengthM, towards float64 }{{24000, 0.4}, {20000, 1.7}, {26000, 0.9}, {18000, -0.4}, {20000, 0.6}} {
		road = join(road, winding(rng, leg.lengthM, leg.towards).moved(0, road[len(road)-1]))
	}
	road = road.graded(274.0729, 612.0311,
		slope{9000, 0.15}, slope{3000, 0.8}, slope{2800, -0.7},
		slope{6400, 5.2}, slope{900, 3.4}, slope{1600, 7.4}, // first, 8.9 km
		slope{600, 0.1}, slope{9200, -4.6}, slope{5200, -0.4}, slope{4100, 0.5},
		slope{3200, 6.8}, slope{500, 10.5}, slope{1300, 7.1}, // second, 5 km
		slope{6100, -5.1}, slope{7400, -0.3}, slope{2200, 1.1},
		slope{5100, 4.4}, slope{4300, 6.6}, slope{700, 1.2}, slope{3500, 8.1}, // third, 13.6 km
		slope{400, -0.2}, slope{12600, -5.4}, slope{6200, -0.25},
		slope{1800, 5.9}, slope{450, 12.2}, slope{1600, 6.3}, // fourth, 3.85 km
	).rolling(0.9, 640)
	return drawing{
		name: "ludwether-mountain-stage", title: "Ludwether Mountain Stage", lat: 47.2604, lon: 3.1186,
		layout: layout{path: road, shape: "point_to_point"},
		marks: []placedMark{
			{"Ludwether start", track.Gate, 0},
			{"Sprint at Ossigarth", track.Sprint, 11900},
			{"Ossigarth Heights", track.Summit, 23708},
			{"Feed at Vennacre", track.Feed, 36500},
			{"Kestreld Rise", track.Summit, 47800},
			{"Sprint at Pellowick", track.Sprint, 60800},
			{"Great Yarnfell", track.Summit, 77100},
			{"Hesperwick Edge", track.Summit, 100150},
			{"Finish at Hesperwick", track.Gate, len(road) - 1},
		},
		recordings: []Recording{recorded(1501), rounded(1503)},
	}
}

// hillClimb is 4 km of hairpins to a summit.
func hillClimb() drawing {
	up := newPen(point{}, -20)
	up.straight(300).bend(250, 40).straight(420).bend(55, 165).straight(330).bend(55, -165).straight(360).bend(50, 160)
	up.straight(310).bend(55, -160).straight(420).bend(300, -45).straight(380).bend(250, 60).straight(465)
	road := up.path.graded(324.0577, 0, slope{300, 4.1}, slope{700, 7.2}, slope{250, 10.4}, slope{400, 6.3}, slope{200, 2.0},
		slope{600, 8.4}, slope{120, 14.2}, slope{500, 9.0}, slope{430, 6.6}, slope{900, 7.8})
	return drawing{
		name: "skarnholt-hill-climb", title: "Skarnholt Hill Climb", lat: 47.3907, lon: 3.2718,
		layout: layout{path: road, shape: "point_to_point"},
		marks:  []placedMark{{"Start", track.Gate, 0}, {"Gate at the quarry", track.Gate, 1850}, {"Skarnholt summit", track.Summit, len(road) - 1}},
		recordings: []Recording{
			recorded(1601), barometric(1602), rounded(1603),
		},
	}
}
