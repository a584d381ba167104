package engine

import (
	"math"
	"slices"
	"strings"
	"testing"

	"parcours.example/analysis/ride"
	"parcours.example/analysis/track"
)

// feedsAt is a profile with feeds at distances along it.
func feedsAt(distances ...float64) CourseSource {
	src := fromProfile(1001, 0) // 50 km
	for _, d := range distances {
		src.Options.Marks = append(src.Options.Marks, track.Mark{Name: "Feed", Kind: track.Feed, AtM: d})
	}
	return src
}

func TestStagesLeadOverTheFeeds(t *testing.T) {
	e := newEngine(t, Config{})
	for _, tc := range []struct {
		name     string
		feeds    []float64
		from, to float64
		want     []float64 // the ends of the stages
	}{
		{"none", nil, math.NaN(), math.NaN(), nil},
		{"two", []float64{30_000, 10_000}, math.NaN(), math.NaN(), []float64{10_000, 30_000, 50_000}},
		{"two in one place", []float64{20_000, 20_000}, math.NaN(), math.NaN(), []float64{20_000, 50_000}},
		{"at the ends", []float64{0, 50_000}, math.NaN(), math.NaN(), nil},
		{"on a stretch", []float64{10_000, 30_000}, 15_000, 40_000, []float64{30_000, 40_000}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			r := atPower(feedsAt(tc.feeds...), 220)
			r.StartM, r.EndM = tc.from, tc.to
			p, err := e.Predict(t.Context(), r)
			if err != nil {
				t.Fatal(err)
			}
			item := p.Items[0]
			if len(item.Food.Stages) != len(tc.want) {
				t.Fatalf("stages %+v, want ends at %v", item.Food.Stages, tc.want)
			}
			at, timeS, high := p.StartM, 0.0, 0.0
			for i, s := range item.Food.Stages {
				if math.Abs(s.StartM-at) > 1e-6 || math.Abs(s.EndM-tc.want[i]) > 1e-6 || !(s.TimeS > 0) {
					t.Errorf("stage %d: %+v, want %v to %v m", i, s, at, tc.want[i])
				}
				at, timeS, high = s.EndM, timeS+s.TimeS, high+s.CarbohydrateG.High
			}
			if len(tc.want) > 0 && (math.Abs(timeS-item.Ride.TimeS) > 1e-6 || math.Abs(high-item.Food.CarbohydrateG.High) > 1e-6) {
				t.Errorf("the stages take %v s and %v g, the ride %v s and %v g", timeS, high, item.Ride.TimeS, item.Food.CarbohydrateG.High)
			}
		})
	}
}

// TestStagesOfSeveralFeedsOnLaps holds that passes are taken in the order of the ride:
// spans stand feed by feed.
func TestStagesOfSeveralFeedsOnLaps(t *testing.T) {
	var spans []Span
	ridden := &ride.Ride{TimeS: 400}
	for _, at := range []float64{1000, 3000, 2000} { // twice the one, once the other
		spans = append(spans, Span{Of: FeatureMark, Kind: "feed", StartM: at, EndM: at}, Span{Of: FeatureMark, Kind: "sprint", StartM: at + 500, EndM: at + 500})
		ridden.Splits = append(ridden.Splits, ride.Split{ClockS: at / 10}, ride.Split{ClockS: at/10 + 50})
	}
	want := []Stage{{StartM: 0, EndM: 1000, TimeS: 100}, {StartM: 1000, EndM: 2000, TimeS: 100}, {StartM: 2000, EndM: 3000, TimeS: 100}, {StartM: 3000, EndM: 4000, TimeS: 100}}
	if got := stages(ridden, spans, 0, 4000); !slices.Equal(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
}

func TestFoodGoesByTheRideAndTheConditions(t *testing.T) {
	e := newEngine(t, Config{})
	r := atPower(feedsAt(), 220)
	r.Riders[1].GrossEfficiency = 0.25
	r.Conditions.TemperatureC = 31
	p, err := e.Predict(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	for i, efficiency := range []float64{0.22, 0.25} {
		item := p.Items[i]
		if got := item.Ride.WorkJ / item.Food.EnergyJ; math.Abs(got-efficiency) > 1e-12 || !item.Food.Hot {
			t.Errorf("gross efficiency %v, want %v; hot %v", got, efficiency, item.Food.Hot)
		}
	}
}

func TestBriefTellsOfFood(t *testing.T) {
	e := newEngine(t, Config{})
	for _, tc := range []struct {
		indoor bool
		want   string
	}{{false, "0.4 to 0.8 l of drink an hour"}, {true, "0.6 to 1.0 l of drink an hour"}} {
		r := BriefRequest{Course: feedsAt(), Conditions: UnstatedConditions(), Riders: []BriefRider{powered(75, 230)}}
		r.Conditions.Indoor = tc.indoor
		b, err := e.Brief(t.Context(), r)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(b.Text, tc.want) {
			t.Errorf("indoors %v: want %q in\n%s", tc.indoor, tc.want, b.Text)
		}
	}
}
