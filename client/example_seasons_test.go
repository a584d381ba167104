package client_test

import (
	"context"
	"fmt"
	"io"
	"log"
	"os"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// A season's rounds and how they compare, in one piece.
func ExampleClient_CompareSeason() {
	c := connected()
	season, err := c.CompareSeason(context.Background(), &contract.SeasonRequest{
		Rounds: []contract.SeasonCourse{
			{RoundID: new("dyke"), Course: client.CourseOfProfile([]float64{0, 9000}, []float64{5, 7}, nil)},
			{RoundID: new("hill"), Course: hill()},
		},
		Riders: &[]contract.Rider{nour(), bram()}, Effort: &justBelow,
	})
	if err != nil {
		log.Fatal(err)
	}
	for _, item := range season.Items {
		for _, p := range item.Result.Predictions {
			fmt.Printf("%s, %s: %.0f s\n", *item.RoundID, p.Rider, *p.TimeS)
		}
	}
	// Output:
	// dyke, Nour: 891 s
	// dyke, Bram: 856 s
	// hill, Nour: 1189 s
	// hill, Bram: 1174 s
}

// A season of files with a rider, told round by round.
func ExampleClient_SeasonOfFiles() {
	c := connected()
	folder := os.DirFS("../testdata/season")
	files := func(yield func(client.SeasonFile) bool) {
		for _, name := range []string{"quellmere-criterium.gpx", "skarnholt-hill-climb.gpx", "README.md"} {
			open := func() (io.ReadCloser, error) { return folder.Open(name) }
			if !yield(client.SeasonFile{RoundID: name, Open: open}) {
				return
			}
		}
	}
	asked := &contract.SeasonRequest{
		Riders: &[]contract.Rider{{Name: new("Nour"), MassKg: 61}},
		Effort: &contract.Effort{Kind: contract.Power, PowerW: new(250.0)},
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
	c := connected()
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
