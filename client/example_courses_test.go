package client_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"log"
	"os"
	"strings"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// A file of one lap, ridden five times.
func ExampleClient_AnalyseCourse() {
	c := connected()
	file, err := os.Open("../testdata/season/morvask-laps-and-climb-lap.gpx")
	if err != nil {
		log.Fatal(err)
	}
	defer file.Close()
	course, err := c.AnalyseCourse(context.Background(), client.File{Content: file}, &contract.AnalyseCourseParams{Laps: new(5)})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%d laps of %.1f km\n", course.Laps.Count, *course.Laps.LengthM/1000)
	for _, climb := range course.Climbs {
		fmt.Printf("%s: %.0f m at %.1f %%, %d times\n", climb.ClimbID, climb.LengthM, climb.MeanGradientPct, len(climb.Passes))
	}
	// Output:
	// 5 laps of 7.4 km
	// climb-1: 2020 m at 3.8 %, 5 times
	// climb-2: 830 m at 5.5 %, 5 times
	// climb-3: 450 m at 7.3 %, 5 times
	// climb-4: 1350 m at 3.6 %, 5 times
}

// A file that is long on the way, and when all of it has been sent.
func ExampleWithProgress() {
	c := connected()
	file, err := os.Open("../testdata/season/morvask-laps-and-climb.gpx")
	if err != nil {
		log.Fatal(err)
	}
	defer file.Close()
	ctx := client.WithProgress(context.Background(), func(sent, of int64) {
		if sent == of {
			fmt.Println("all is sent")
		}
	})
	if _, err := c.AnalyseCourse(ctx, client.File{Content: file}, nil); err != nil {
		log.Fatal(err)
	}
	// Output:
	// all is sent
}

// To the top of a course, and back.
func ExampleClient_AssembleCourse() {
	c := connected()
	course, err := c.AssembleCourse(context.Background(), &contract.AssemblyRequest{
		Name:  new("To the top and back"),
		Parts: []contract.AssemblyPart{{Course: hill(), ToM: new(5000.0)}, {Course: hill(), ToM: new(5000.0), Reverse: new(true)}},
	})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%s: %.1f km, %.0f m up\n", *course.Name, course.DistanceM/1000, *course.AscentM)
	// Output:
	// To the top and back: 10.0 km, 180 m up
}

// What was analysed before, again, with its profile.
func ExampleClient_Course() {
	c, ctx := connected(), context.Background()
	made, err := c.AssembleCourse(ctx, &contract.AssemblyRequest{Parts: []contract.AssemblyPart{{Course: hill()}}})
	if err != nil {
		log.Fatal(err)
	}
	course, err := c.Course(ctx, made.CourseID, "profile")
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.0f m at the start, %.0f m at the top\n", (*course.Profile.ElevationM)[0], *course.MaxElevationM)
	// Output:
	// 0 m at the start, 180 m at the top
}

// A picture of a course's first climb, for a page that is dark.
func ExampleClient_CoursePicture() {
	c, ctx := connected(), context.Background()
	course, err := c.AssembleCourse(ctx, &contract.AssemblyRequest{Parts: []contract.AssemblyPart{{Course: hill()}}})
	if err != nil {
		log.Fatal(err)
	}
	picture, err := c.CoursePicture(ctx, course.CourseID, client.SVG, &contract.DrawCourseParams{
		Focus: new("climb-1"), Theme: new(contract.PictureThemeDark), Width: new(800),
	})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(bytes.HasPrefix(picture, []byte("<svg")))
	// Output:
	// true
}

// A store keeps what was read of courses: it is asked for again, and transferred only where it
// has changed.
func ExampleOpenStore() {
	dir, err := os.MkdirTemp("", "courses")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(dir)
	store, err := client.OpenStore(dir, 64<<20)
	if err != nil {
		log.Fatal(err)
	}
	address, _ := serve()
	c, err := client.New(address, client.WithStore(store))
	if err != nil {
		log.Fatal(err)
	}
	for range 2 {
		contract, err := c.Contract(context.Background())
		if err != nil {
			log.Fatal(err)
		}
		fmt.Println(len(contract) > 0)
	}
	// Output:
	// true
	// true
}

// The write-up of a course, with the facts that its sentences hold.
func ExampleClient_Brief() {
	c := connected()
	brief, err := c.Brief(context.Background(), &contract.BriefRequest{Course: hill()})
	if err != nil {
		log.Fatal(err)
	}
	for _, fact := range brief.Facts[:3] {
		fmt.Println(fact.Name, fact.Text)
	}
	// Output:
	// distance_m 9.0 km
	// ascent_m 180 m
	// climb-1.length_m 3.0 km
}

// A brief as long as a chat message may be.
func ExampleClient_BriefText() {
	c := connected()
	text, err := c.BriefText(context.Background(), client.PlainText, &contract.BriefRequest{Course: hill(), MaxChars: new(280)})
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

// The itinerary of a file at two speeds, as a table, in one call.
func ExampleClient_BriefOfFile() {
	c := connected()
	file, err := os.Open("../testdata/examples/orchard-loop.gpx")
	if err != nil {
		log.Fatal(err)
	}
	defer file.Close()
	table, err := c.BriefOfFile(context.Background(), client.Table, client.File{Content: file}, &contract.BriefParams{
		SpeedMps: &[]float64{10, 11},
	})
	if err != nil {
		log.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	if err != nil {
		log.Fatal(err)
	}
	for _, row := range rows[:3] {
		fmt.Println(row[0], row[5], row[7], row[8])
	}
	// Output:
	// covered_km what elapsed_h_mm_ss: 36.0 km/h elapsed_h_mm_ss: 39.6 km/h
	// 0.00 start; lap 1; Chapel sprint 0:00:00 0:00:00
	// 0.31 foot of Orchard top 0:00:31 0:00:28
}
