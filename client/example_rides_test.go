package client_test

import (
	"bytes"
	"context"
	"fmt"
	"log"
	"os"
	"strings"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// Nour and Bram are invented riders.
func nour() contract.Rider {
	return contract.Rider{Name: new("Nour"), MassKg: 61, CriticalPowerW: new(245.0), WPrimeJ: new(15000.0)}
}

func bram() contract.Rider {
	return contract.Rider{Name: new("Bram"), MassKg: 82, CriticalPowerW: new(310.0), WPrimeJ: new(21000.0)}
}

// justBelow is the effort of a long climb.
var justBelow = contract.Effort{Kind: contract.Fraction, OfCriticalPower: new(0.95)}

// Two riders on two set-ups.
func ExampleClient_Predict() {
	c := connected()
	found, err := c.Predict(context.Background(), &contract.PredictionRequest{
		Course: hill(), Riders: []contract.Rider{nour(), bram()}, Effort: justBelow,
		Setups: &[]contract.Setup{{Name: new("all-round")}, {Name: new("light"), MassKg: new(6.8), CdaChangeM2: new(0.012)}},
	})
	if err != nil {
		log.Fatal(err)
	}
	for _, p := range found.Predictions {
		fmt.Printf("%s, %s: %.0f s\n", p.Rider, p.Setup, *p.TimeS)
	}
	// Output:
	// Nour, all-round: 1189 s
	// Nour, light: 1190 s
	// Bram, all-round: 1174 s
	// Bram, light: 1175 s
}

// The same as a picture.
func ExampleClient_PredictionPicture() {
	c := connected()
	picture, err := c.PredictionPicture(context.Background(), &contract.PredictionRequest{
		Course: hill(), Riders: []contract.Rider{nour(), bram()}, Effort: justBelow,
	}, client.Look{Form: client.PNG, Width: new(800)})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(bytes.HasPrefix(picture, []byte("\x89PNG")))
	// Output:
	// true
}

// Where a rider spends power and where she saves it.
func ExampleClient_Plan() {
	c := connected()
	found, err := c.Plan(context.Background(), &contract.PlanRequest{Course: hill(), Riders: []contract.Rider{nour()}})
	if err != nil {
		log.Fatal(err)
	}
	plan := found.Plans[0]
	fmt.Printf("%.0f s, %.1f s less than at constant power\n", *plan.TimeS, *plan.GainS)
	for _, step := range *plan.Steps {
		fmt.Printf("to %.0f m: %.0f W\n", step.EndM, step.PowerW)
	}
	// Output:
	// 1103 s, 14.4 s less than at constant power
	// to 2120 m: 245 W
	// to 4940 m: 274 W
	// to 9000 m: 245 W
}

// A plan as a picture.
func ExampleClient_PlanPicture() {
	c := connected()
	picture, err := c.PlanPicture(context.Background(), &contract.PlanRequest{Course: hill(), Riders: []contract.Rider{nour()}}, client.Look{Form: client.SVG})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(bytes.HasPrefix(picture, []byte("<svg")))
	// Output:
	// true
}

// Which set-up serves which ambition.
func ExampleClient_Compare() {
	c := connected()
	found, err := c.Compare(context.Background(), &contract.ComparisonRequest{
		Course: hill(), Riders: []contract.Rider{nour()}, Effort: justBelow,
		Setups: []contract.Setup{{Name: new("smooth"), MassKg: new(9.1), CdaChangeM2: new(-0.03)}, {Name: new("light"), MassKg: new(6.8)}},
	})
	if err != nil {
		log.Fatal(err)
	}
	first, _, _ := strings.Cut(found.Recommendation, ". ")
	fmt.Println(first)
	// Output:
	// For Nour, smooth is the choice for the finish: 7.3 s ahead of light (1.2 s to 13 s by the inputs)
}

// When to start the sprint to the finish of a level road.
func ExampleClient_Launch() {
	c := connected()
	rider := nour()
	rider.MaxPowerW = new(780.0)
	found, err := c.Launch(context.Background(), &contract.LaunchRequest{
		Course: client.CourseOfProfile([]float64{0, 5000}, []float64{0, 0}, nil), Riders: []contract.Rider{rider},
		Lines: []contract.LaunchLine{{At: contract.CoursePlace{Finish: new(contract.CoursePlaceFinish(true))}, ApproachSpeedMps: new(15.0)}},
	})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.0f m before the line\n", *found.Launches[0].LaunchBeforeM)
	// Output:
	// 189 m before the line
}

// Where fifteen seconds with a quarter less drag gain most.
func ExampleClient_PlaceAids() {
	c := connected()
	found, err := c.PlaceAids(context.Background(), &contract.AidsRequest{
		Course: hill(), Riders: []contract.Rider{nour()}, Effort: justBelow,
		Aids: []contract.Aid{{Name: new("Fairing"), DragFactor: new(0.75), DurationS: 15}},
	})
	if err != nil {
		log.Fatal(err)
	}
	first, _, _ := strings.Cut(found.Recommendation, ". ")
	fmt.Println(first)
	// Output:
	// Fairing gains most at 1.87 km, 130 m before climb-1: 1.9 s at the finish
}

// What a rider can do, from two hard efforts.
func ExampleClient_FitRider() {
	c := connected()
	fitted, err := c.FitRider(context.Background(), &contract.CapabilityRequest{
		Efforts: []contract.MaximalEffort{{DurationS: 180, PowerW: 330}, {DurationS: 720, PowerW: 270}},
	})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.0f W, %.1f kJ\n", fitted.Rider.CriticalPowerW, fitted.Rider.WPrimeJ/1000)
	// Output:
	// 250 W, 14.4 kJ
}

// How likely who is first.
func ExampleClient_RunScenario() {
	c := connected()
	found, err := c.RunScenario(context.Background(), &contract.ScenarioRequest{
		Course: hill(),
		Riders: &[]contract.ScenarioRider{
			{Name: new("Nour"), MassKg: 61, CriticalPowerW: 245, WPrimeJ: 15000}, {Name: new("Bram"), MassKg: 82, CriticalPowerW: 310, WPrimeJ: 21000},
		},
		Rules: &contract.RaceRules{Runs: new(20), Seed: new(int64(7))},
	})
	if err != nil {
		log.Fatal(err)
	}
	for _, rider := range found.Riders {
		fmt.Printf("%s: place %.1f\n", rider.Rider, rider.MeanPlace.Mean)
	}
	// Output:
	// Nour: place 1.6
	// Bram: place 1.4
}

// A race that takes a while tells how far it is.
func ExampleClient_ScenarioLines() {
	c := connected()
	request := &contract.ScenarioRequest{
		Course: hill(),
		Riders: &[]contract.ScenarioRider{{MassKg: 61, CriticalPowerW: 245, WPrimeJ: 15000}, {MassKg: 82, CriticalPowerW: 260, WPrimeJ: 20000}},
	}
	for line, err := range c.ScenarioLines(context.Background(), request) {
		switch {
		case err != nil:
			log.Fatal(err)
		case line.Result != nil:
			fmt.Printf("%d riders\n", len(line.Result.Riders))
		}
	}
	// Output:
	// 2 riders
}

// What a recorded ride tells: where it differs from what was predicted, and the rider's drag.
func ExampleClient_Calibrate() {
	c := connected()
	fit, err := os.Open("../testdata/examples/orchard-loop-nour.fit")
	if err != nil {
		log.Fatal(err)
	}
	defer fit.Close()
	recording, err := client.Recording(client.File{Content: fit})
	if err != nil {
		log.Fatal(err)
	}
	power := 230.0
	found, err := c.Calibrate(context.Background(), &contract.CalibrationRequest{ // the road is the recording's own
		Effort: &contract.Effort{Kind: contract.Power, PowerW: &power},
		Rides:  []contract.RecordedRide{{Rider: contract.Rider{MassKg: 61}, File: recording}},
	})
	if err != nil {
		log.Fatal(err)
	}
	ride := found.Rides[0]
	fmt.Printf("%.0f s of the difference are stops\n", ride.Difference.StopsS)
	fmt.Printf("drag area %.1f m²\n", *found.Learnt[0].CdaM2)
	// Output:
	// 20 s of the difference are stops
	// drag area 0.3 m²
}

// A ride and its prediction, one above the other, as a picture.
func ExampleClient_CalibrationPicture() {
	c := connected()
	fit, err := os.Open("../testdata/examples/orchard-loop-nour.fit")
	if err != nil {
		log.Fatal(err)
	}
	defer fit.Close()
	recording, err := client.Recording(client.File{Content: fit})
	if err != nil {
		log.Fatal(err)
	}
	picture, err := c.CalibrationPicture(context.Background(), &contract.CalibrationRequest{
		Effort: &contract.Effort{Kind: contract.Power, PowerW: new(230.0)},
		Rides:  []contract.RecordedRide{{Rider: contract.Rider{MassKg: 61}, File: recording}},
	}, client.Look{Form: client.SVG})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(bytes.HasPrefix(picture, []byte("<svg")))
	// Output:
	// true
}
