package client_test

import (
	"context"
	"errors"
	"fmt"
	"log"
	"log/slog"
	"net/http/httptest"
	"os"
	"sync"

	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/api"
	"parcours.example/api/contract"
	"parcours.example/client"
	"parcours.example/service/engine"
	"parcours.example/service/jobs"
)

// serve starts the service in this process, once for all examples; programs have its address.
var serve = sync.OnceValues(func() (address string, stop func()) {
	registry := prometheus.NewRegistry()
	running, err := engine.New(engine.Config{Registerer: registry})
	if err != nil {
		log.Fatal(err)
	}
	later, err := jobs.NewLocal(jobs.Config{Workers: 1})
	if err != nil {
		log.Fatal(err)
	}
	handler, err := api.New(api.Config{Engine: running, Jobs: later, Registry: registry, Ready: func() bool { return true }, Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		log.Fatal(err)
	}
	server := httptest.NewServer(handler)
	return server.URL, func() {
		server.CloseClientConnections()
		server.Close()
		_ = later.Close(context.Background())
		running.Close()
	}
})

// connected returns a client as Example makes it.
func connected() *client.Client {
	address, _ := serve()
	c, err := client.New(address)
	if err != nil {
		log.Fatal(err)
	}
	return c
}

// The road of most examples: 3 km at 6 % after 2 km on the level, and down again.
func hill() contract.CourseReference {
	return client.CourseOfProfile([]float64{0, 2000, 5000, 9000}, []float64{0, 0, 180, 150}, nil)
}

// A course file becomes a course, and the course a time for a rider.
func Example() {
	address, _ := serve()
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

// Problems are errors; which one it is, errors.Is tells, and where, its errors.
func ExampleProblem() {
	c := connected()
	power := 60.0
	_, err := c.Predict(context.Background(), &contract.PredictionRequest{
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
