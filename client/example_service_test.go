package client_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log"
	"strings"
	"time"

	"parcours.example/client"
)

func ExampleClient_Live() {
	health, err := connected().Live(context.Background())
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(health.Status)
	// Output:
	// live
}

func ExampleClient_Ready() {
	health, err := connected().Ready(context.Background())
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(health.Status)
	// Output:
	// ready
}

// The contract that the service keeps, for other languages' generators.
func ExampleClient_Contract() {
	contract, err := connected().Contract(context.Background())
	if err != nil {
		log.Fatal(err)
	}
	first, _, _ := strings.Cut(string(contract), "\n")
	fmt.Println(first)
	// Output:
	// openapi: 3.0.3
}

func ExampleClient_Metrics() {
	metrics, err := connected().Metrics(context.Background())
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(bytes.Contains(metrics, []byte("parcours_http_requests_total")))
	// Output:
	// true
}

// A file of the invented season, to try things with.
func ExampleClient_Demo() {
	c, ctx := connected(), context.Background()
	file, err := c.Demo(ctx, "quellmere-criterium")
	if err != nil {
		log.Fatal(err)
	}
	course, err := c.AnalyseCourse(ctx, client.File{Content: bytes.NewReader(file)}, nil)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%s: %d laps\n", *course.Name, course.Laps.Count)
	// Output:
	// Quellmere Criterium: 25 laps
}

// A call that somebody waits for is sent once, and given up when it takes too long.
func ExampleOnce() {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	_, err := connected().Course(client.Once(ctx), strings.Repeat("0", 32))
	fmt.Println(errors.Is(err, client.CourseNotCached))
	// Output:
	// true
}
