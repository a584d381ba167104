package client_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"log/slog"
	"net/http/httptest"
	"os"

	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/api"
	"parcours.example/api/contract"
	"parcours.example/client"
	"parcours.example/service/engine"
)

// serve starts the service in this process; programs have its address.
func serve() (address string, stop func()) {
	registry := prometheus.NewRegistry()
	running, err := engine.New(engine.Config{Registerer: registry})
	if err != nil {
		log.Fatal(err)
	}
	handler, err := api.New(api.Config{Engine: running, Registry: registry, Ready: func() bool { return true }, Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		log.Fatal(err)
	}
	server := httptest.NewServer(handler)
	return server.URL, func() { server.CloseClientConnections(); server.Close(); running.Close() }
}

// A course file becomes a course, and the course a time for a rider.
func Example() {
	address, stop := serve()
	defer stop()
	c, err := client.New(address)
	if err != nil {
		log.Fatal(err)
	}
	ctx := context.Background()
	file, err := os.Open("../testdata/season/morvask-laps-and-climb.gpx")
	if err != nil {
		log.Fatal(err)
	}
	defer file.Close()
	course, err := c.AnalyseCourse(ctx, client.File{Content: file}, nil)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%s: %.1f km, %d laps, %d climbs\n", *course.Name, course.DistanceM/1000, course.Laps.Count, len(course.Climbs))

	power := 250.0
	found, err := c.Predict(ctx, &contract.PredictionRequest{
		Course: client.CourseByID(course.CourseID),
		Riders: []contract.Rider{{MassKg: 72}},
		Effort: contract.Effort{Kind: contract.Power, PowerW: &power},
	})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("72 kg at 250 W: %.0f min\n", *found.Predictions[0].TimeS/60)
	// Output:
	// Morvask Circuit and Wall: 48.8 km, 5 laps, 5 climbs
	// 72 kg at 250 W: 104 min
}

// A brief as long as a chat message may be.
func ExampleClient_BriefText() {
	address, stop := serve()
	defer stop()
	c, err := client.New(address)
	if err != nil {
		log.Fatal(err)
	}
	most := 280
	text, err := c.BriefText(context.Background(), client.PlainText, &contract.BriefRequest{
		Course:   client.CourseOfProfile([]float64{0, 2000, 5000, 9000}, []float64{0, 0, 180, 150}, nil),
		MaxChars: &most,
	})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(text)
	// Output:
	// Course brief
	//
	// 9.0 km point to point, climbing 180 m. There is a climb of 3.0 km at 6.0 %; its top comes with 4.0 km to go. The last 500 m are level.
	//
	// The climb
	// - The climb: 180 m up. Foot at 2.0 km.
	//
	// Closed roads or indoors only: law, rules and marshals first.
}

// A race that takes a while tells how far it is.
func ExampleClient_ScenarioLines() {
	address, stop := serve()
	defer stop()
	c, err := client.New(address)
	if err != nil {
		log.Fatal(err)
	}
	request := &contract.ScenarioRequest{
		Course: client.CourseOfProfile([]float64{0, 2000, 5000}, []float64{0, 0, 180}, nil),
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

// What a rider can do, from two hard efforts.
func ExampleClient_FitRider() {
	address, stop := serve()
	defer stop()
	c, err := client.New(address)
	if err != nil {
		log.Fatal(err)
	}
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

// What a recorded ride tells: where it differs from what was predicted, and the rider's drag.
func ExampleClient_Calibrate() {
	address, stop := serve()
	defer stop()
	c, err := client.New(address)
	if err != nil {
		log.Fatal(err)
	}
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

// Problems are errors; which one it is, errors.Is tells, and where, its errors.
func ExampleProblem() {
	address, stop := serve()
	defer stop()
	c, err := client.New(address)
	if err != nil {
		log.Fatal(err)
	}
	power := 60.0
	_, err = c.Predict(context.Background(), &contract.PredictionRequest{
		Course: client.CourseOfProfile([]float64{0, 500, 3000}, []float64{40, 40, 540}, nil),
		Riders: []contract.Rider{{MassKg: 90}},
		Effort: contract.Effort{Kind: contract.Power, PowerW: &power},
	})
	var p *client.Problem
	if errors.Is(err, client.CannotClimb) && errors.As(err, &p) {
		fmt.Printf("stops %.0f m from the start\n", *p.AtM)
	}
	// Output:
	// stops 508 m from the start
}

// A season of files with a rider, told round by round.
func ExampleClient_SeasonOfFiles() {
	address, stop := serve()
	defer stop()
	c, err := client.New(address)
	if err != nil {
		log.Fatal(err)
	}
	folder := os.DirFS("../testdata/season")
	files := func(yield func(client.SeasonFile) bool) {
		for _, name := range []string{"quellmere-criterium.gpx", "skarnholt-hill-climb.gpx", "README.md"} {
			open := func() (io.ReadCloser, error) { return folder.Open(name) }
			if !yield(client.SeasonFile{RoundID: name, Open: open}) {
				return
			}
		}
	}
	power := 250.0
	asked := &contract.SeasonRequest{
		Riders: &[]contract.Rider{{Name: new("Nour"), MassKg: 61}},
		Effort: &contract.Effort{Kind: contract.Power, PowerW: &power},
	}
	for line, err := range c.SeasonOfFiles(context.Background(), asked, files) {
		switch {
		case err != nil:
			log.Fatal(err)
		case line.Item != nil && line.Item.Problem != nil:
			fmt.Printf("%s: %s\n", *line.Item.RoundID, line.Item.Problem.Title)
		case line.Item != nil:
			fmt.Printf("%s: %.1f km in %.0f min\n", *line.Item.RoundID, line.Item.Result.DistanceM/1000, *line.Item.Result.Predictions[0].TimeS/60)
		case line.End != nil:
			fmt.Printf("%d rounds in %.0f min\n", line.End.Answered, *line.End.Comparison.Riders[0].TotalTimeS/60)
		}
	}
	// Output:
	// quellmere-criterium.gpx: 30.0 km in 48 min
	// skarnholt-hill-climb.gpx: 4.0 km in 16 min
	// README.md: The file isn't of the named format, or of none that is read here
	// 2 rounds in 64 min
}

// A season of courses that were analysed before, or come with the request.
func ExampleClient_SeasonLines() {
	address, stop := serve()
	defer stop()
	c, err := client.New(address)
	if err != nil {
		log.Fatal(err)
	}
	asked := &contract.SeasonRequest{Rounds: []contract.SeasonCourse{
		{RoundID: new("dyke"), Course: client.CourseOfProfile([]float64{0, 9000}, []float64{5, 7}, nil)},
		{RoundID: new("hill"), Course: client.CourseOfProfile([]float64{0, 2000, 7000}, []float64{20, 20, 320}, nil)},
	}}
	for line, err := range c.SeasonLines(context.Background(), asked) {
		switch {
		case err != nil:
			log.Fatal(err)
		case line.End != nil:
			for _, round := range line.End.Comparison.Rounds {
				fmt.Printf("%s: %s\n", *round.RoundID, round.Decisive)
			}
		}
	}
	// Output:
	// dyke: The finish: there is no climb.
	// hill: The climb at 2.00 km: 300 m up in 5.0 km at 6.0 %, its top at the finish.
}
