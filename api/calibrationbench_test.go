package api_test

import (
	"encoding/base64"
	"encoding/json"
	"math"
	"math/rand/v2"
	"net/http"
	"runtime"
	"sync"
	"testing"
	"time"

	"parcours.example/analysis/course"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/track"
	"parcours.example/api/contract"
	"parcours.example/internal/ridegen"
	"parcours.example/service/engine"
)

// The courses that recordings of benchmarks were ridden on.
const (
	longStage       = "testdata/season/ludwether-mountain-stage.gpx"
	calibrationLaps = "testdata/season/morvask-laps-and-climb.gpx"
)

// recorderOn rides a course to its end and writes what a device records of it at 1 Hz.
func recorderOn(t testing.TB, name string) func(massKg, powerW float64, seed uint64) object {
	t.Helper()
	read, err := track.ReadGPX(t.Context(), readFile(t, name), track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	c, err := course.FromTrack(t.Context(), read, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	unset := math.NaN()
	road, err := ride.NewRoad(c, ride.Conditions{
		TemperatureC: unset, PressureHPa: unset, HumidityPct: unset, AirDensityKgM3: unset, WindMps: unset, WindFromDeg: unset,
		RoughnessM: unset, HeadwindMps: unset, Shelter: unset, LoadKg: unset, StartSpeedMps: unset, CoastAboveMps: unset,
		LateralMps2: unset, BrakingMps2: unset,
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	setup := ride.Setup{
		MassKg: unset, CdAM2: unset, CdAChangeM2: unset, Crr: unset, DrivetrainEfficiency: unset, WheelInertiaKgM2: unset,
		WheelRadiusM: unset, WheelDragAreaM2: unset, BearingN: unset, BearingNsPerM: unset,
	}
	return func(massKg, powerW float64, seed uint64) object {
		rng := rand.New(rand.NewPCG(seed, 9))
		rider := ride.Rider{
			MassKg: massKg, HeightM: unset, CdAM2: 0.28 + 0.06*rng.Float64(), PowerW: unset, CriticalPowerW: unset, WPrimeJ: unset,
			MaxPowerW: unset, RecoveryRate: unset, GrossEfficiency: unset,
		}
		effort := ride.Effort{Kind: ride.BySteps}
		for at := 60.0; at < c.LengthM(); at += 40 + 60*rng.Float64() {
			effort.Steps = append(effort.Steps, ride.Step{EndM: at, PowerW: powerW * (1 + 0.15*rng.NormFloat64())})
		}
		effort.Steps = append(effort.Steps, ride.Step{EndM: math.Inf(1), PowerW: powerW})
		ridden, err := ride.Simulate(t.Context(), road, rider, setup, effort, nil)
		if err != nil {
			t.Fatal(err)
		}
		samples, _ := ridegen.Samples(c, ridden, ridegen.Ordinary(), seed)
		fit, err := ridegen.FIT(samples)
		if err != nil {
			t.Fatal(err)
		}
		return object{
			"rider": object{"mass_kg": massKg, "power_w": powerW, "critical_power_w": powerW + 20, "w_prime_j": 18_000.0},
			"file":  object{"encoding": "base64", "content": base64.StdEncoding.EncodeToString(fit)},
			"hours": ridden.TimeS / 3600,
		}
	}
}

// calibrationBody is a request with recordings, over an analysed course.
func calibrationBody(t testing.TB, h *harness, name string, rides []any) []byte {
	t.Helper()
	for _, r := range rides {
		delete(r.(object), "hours")
	}
	body, err := json.Marshal(object{
		"course": object{"course_id": analyse(t, h, readFile(t, name))}, "effort": object{"kind": "own_power"}, "rides": rides,
	})
	if err != nil {
		t.Fatal(err)
	}
	return body
}

// recalled sends a body that must be answered, and counts what couldn't be used.
func recalled(t testing.TB, h *harness, body []byte) {
	t.Helper()
	w := h.serve(request(http.MethodPost, "/v1/calibrations", "application/json", body))
	var out contract.Calibration
	if err := json.Unmarshal(w.Body.Bytes(), &out); err != nil || w.Code != http.StatusOK {
		t.Fatalf("status %d: %.300s", w.Code, w.Body)
	}
	for _, x := range out.Rides {
		if x.Problem != nil || x.PowerAveragedM != nil {
			t.Fatalf("%s: %+v, power averaged over %v", x.RideID, x.Problem, x.PowerAveragedM)
		}
	}
}

// BenchmarkCalibration measures the whole call: of a recording of five hours on one core, and of
// a round's recordings on all. The live heap is what the call holds at most beside its body.
func BenchmarkCalibration(b *testing.B) {
	b.Run("FiveHours", func(b *testing.B) {
		one := recorderOn(b, longStage)(72, 160, 1)
		hours := one["hours"]
		h := newHarness(b, engine.Config{Workers: 1})
		body := calibrationBody(b, h, longStage, []any{one})
		for b.Loop() {
			recalled(b, h, body)
		}
		b.ReportMetric(hours.(float64), "hours")
	})
	for _, riders := range []int{20, 100} {
		b.Run(map[int]string{20: "Round20", 100: "Round100"}[riders], func(b *testing.B) {
			record := recorderOn(b, calibrationLaps)
			var rides []any
			hours := 0.0
			for i := range riders {
				one := record(58+float64(i%30), 215+4*float64(i%25), uint64(i)) //nolint:gosec // not negative
				hours += one["hours"].(float64) / float64(riders)
				rides = append(rides, one)
			}
			h := newHarness(b, engine.Config{})
			body := calibrationBody(b, h, calibrationLaps, rides)
			peak := 0.0
			for b.Loop() {
				peak = max(peak, liveAtMost(func() { recalled(b, h, body) }))
			}
			b.ReportMetric(hours, "hours")
			b.ReportMetric(float64(len(body))/1e6, "body-MB")
			b.ReportMetric(peak/1e6, "live-MB")
		})
	}
}

// liveAtMost is by how much the heap that a collection leaves grew at most while work was done.
func liveAtMost(work func()) float64 {
	var before, now runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	done, most := make(chan struct{}), 0.0
	var watch sync.WaitGroup
	watch.Go(func() {
		for {
			select {
			case <-done:
				return
			case <-time.After(200 * time.Millisecond):
				runtime.GC()
				runtime.ReadMemStats(&now)
				most = max(most, float64(now.HeapAlloc)-float64(before.HeapAlloc))
			}
		}
	})
	work()
	close(done)
	watch.Wait()
	return most
}
