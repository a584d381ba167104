package client_test

import (
	"context"
	"fmt"
	"log"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// fetched waits for what a call comes to that was started.
func fetched[Answer any](job *client.Job[Answer], err error) *Answer {
	if err != nil {
		log.Fatal(err)
	}
	answer, err := job.Wait(context.Background(), nil)
	if err != nil {
		log.Fatal(err)
	}
	return answer
}

// A race that takes long goes on without its caller, who fetches what it comes to.
func ExampleJob() {
	c, ctx := connected(), context.Background()
	job, err := c.StartScenario(ctx, &contract.ScenarioRequest{
		Course: hill(), Rules: &contract.RaceRules{Runs: new(60)},
		Riders: &[]contract.ScenarioRider{{MassKg: 61, CriticalPowerW: 245, WPrimeJ: 15000}, {MassKg: 82, CriticalPowerW: 260, WPrimeJ: 20000}},
	})
	if err != nil {
		log.Fatal(err)
	}
	// Its ID is all that is needed later, or elsewhere.
	result, err := client.JobByID[contract.Scenario](c, job.ID()).Wait(ctx, nil)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%d riders, %d runs\n", len(result.Riders), *result.Rules.Runs)
	// Output:
	// 2 riders, 60 runs
}

// A prediction that is fetched later.
func ExampleClient_StartPrediction() {
	c := connected()
	found := fetched(c.StartPrediction(context.Background(), &contract.PredictionRequest{Course: hill(), Riders: []contract.Rider{bram()}, Effort: justBelow}))
	fmt.Printf("%.0f s\n", *found.Predictions[0].TimeS)
	// Output:
	// 1174 s
}

// A plan that is fetched later.
func ExampleClient_StartPlan() {
	c := connected()
	found := fetched(c.StartPlan(context.Background(), &contract.PlanRequest{Course: hill(), Riders: []contract.Rider{nour()}}))
	fmt.Printf("%d steps\n", len(*found.Plans[0].Steps))
	// Output:
	// 3 steps
}

// A comparison that is fetched later.
func ExampleClient_StartComparison() {
	c := connected()
	found := fetched(c.StartComparison(context.Background(), &contract.ComparisonRequest{
		Course: hill(), Riders: []contract.Rider{nour()}, Effort: justBelow, Setups: []contract.Setup{{Name: new("light"), MassKg: new(6.8)}, {Name: new("sturdy"), MassKg: new(9.8)}},
	}))
	fmt.Printf("%d comparison\n", len(found.Comparisons))
	// Output:
	// 1 comparison
}

// A launch that is fetched later.
func ExampleClient_StartLaunch() {
	c := connected()
	found := fetched(c.StartLaunch(context.Background(), &contract.LaunchRequest{
		Course: hill(), Riders: []contract.Rider{nour()}, Lines: []contract.LaunchLine{{At: contract.CoursePlace{Finish: new(contract.CoursePlaceFinish(true))}}},
	}))
	fmt.Printf("%.0f m before the line\n", *found.Launches[0].LaunchBeforeM)
	// Output:
	// 189 m before the line
}

// Where an aid gains most, fetched later.
func ExampleClient_StartAids() {
	c := connected()
	found := fetched(c.StartAids(context.Background(), &contract.AidsRequest{
		Course: hill(), Riders: []contract.Rider{nour()}, Effort: justBelow, Aids: []contract.Aid{{Name: new("Fairing"), DragFactor: new(0.8), DurationS: 20}},
	}))
	fmt.Println(found.Recommendation[:7])
	// Output:
	// Fairing
}

// A race that tells how far it is.
func ExampleClient_StartScenario() {
	c, ctx := connected(), context.Background()
	job, err := c.StartScenario(ctx, &contract.ScenarioRequest{
		Course: hill(), Rules: &contract.RaceRules{Runs: new(24)},
		Riders: &[]contract.ScenarioRider{{MassKg: 61, CriticalPowerW: 245, WPrimeJ: 15000}, {MassKg: 82, CriticalPowerW: 260, WPrimeJ: 20000}},
	})
	if err != nil {
		log.Fatal(err)
	}
	var last string
	if _, err := job.Wait(ctx, func(done, of int) { last = fmt.Sprintf("%d of %d runs", done, of) }); err != nil {
		log.Fatal(err)
	}
	fmt.Println(last)
	// Output:
	// 24 of 24 runs
}

// A brief that is fetched later.
func ExampleClient_StartBrief() {
	c := connected()
	found := fetched(c.StartBrief(context.Background(), &contract.BriefRequest{Course: hill()}))
	fmt.Println(found.Title)
	// Output:
	// Course brief
}

// A season that is fetched later.
func ExampleClient_StartSeason() {
	c := connected()
	found := fetched(c.StartSeason(context.Background(), &contract.SeasonRequest{Rounds: []contract.SeasonCourse{{Course: hill()}}}))
	fmt.Println(found.Answered)
	// Output:
	// 1
}
