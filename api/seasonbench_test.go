package api_test

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"parcours.example/analysis/course"
	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
	"parcours.example/service/engine"
)

// generatedRounds are courses of all kinds as devices record them.
func generatedRounds(n int) []namedFile {
	kinds := coursegen.Kinds()
	out := make([]namedFile, n)
	for i := range out {
		line, _ := coursegen.Random(kinds[i%len(kinds)], uint64(i)) //nolint:gosec // not negative
		points := coursegen.Record(line, coursegen.RandomNoise(uint64(i)), uint64(i))
		name := fmt.Sprintf("round-%d.gpx", i)
		out[i] = namedFile{name, string(coursegen.GPX(name, points, 6, nil))}
	}
	return out
}

// rosterOf is a request with so many riders.
func rosterOf(n int) string {
	riders := make([]string, n)
	for i := range riders {
		riders[i] = fmt.Sprintf(`{"mass_kg": %d, "power_w": %d}`, 55+2*i%40, 200+9*i%150)
	}
	return `{"riders": [` + strings.Join(riders, ", ") + `], "effort": {"kind": "own_power"}}`
}

// BenchmarkSeason measures 200 courses × 20 riders: by the analysis alone on all cores, through
// the whole service, and sent again. What the service does of what the analysis alone does is the
// figure.
func BenchmarkSeason(b *testing.B) {
	const riders = 20
	rounds := generatedRounds(200)
	contentType, body := formOf(b, rosterOf(riders), rounds...)
	h := newHarness(b, engine.Config{})
	send := func() time.Duration {
		start := time.Now()
		w := h.serve(request(http.MethodPost, seasonsPath, contentType, body))
		if _, last := itemsOf(seasonLines(b, w)); last.End == nil || last.End.Failed > 0 {
			b.Fatalf("status %d: %.300s", w.Code, w.Body)
		}
		return time.Since(start)
	}
	for b.Loop() {
		bare := bareSeason(b, rounds, riders)
		h = newHarness(b, engine.Config{})
		first, again := send(), send()
		b.ReportMetric(float64(len(rounds))/bare.Seconds(), "bare-courses/s")
		b.ReportMetric(float64(len(rounds))/first.Seconds(), "courses/s")
		b.ReportMetric(bare.Seconds()/first.Seconds(), "of-bare")
		b.ReportMetric(float64(len(rounds))/again.Seconds(), "again-courses/s")
	}
}

// bareSeason rides the rounds by the analysis alone, a round on each core.
func bareSeason(b *testing.B, rounds []namedFile, riders int) time.Duration {
	b.Helper()
	unknown := math.NaN()
	start := time.Now()
	todo := make(chan namedFile)
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for f := range todo {
				if err := bareRound(b.Context(), f, riders, unknown); err != nil {
					b.Error(err)
				}
			}
		})
	}
	for _, f := range rounds {
		todo <- f
	}
	close(todo)
	workers.Wait()
	return time.Since(start)
}

// bareRound is a round by the analysis alone: its course, and each rider's time with its band.
func bareRound(ctx context.Context, f namedFile, riders int, unknown float64) error {
	read, err := track.ReadGPX(ctx, []byte(f.content), track.Options{Limits: track.DefaultLimits()})
	if err != nil {
		return err
	}
	c, err := course.FromTrack(ctx, read, course.Defaults())
	if err != nil {
		return err
	}
	if _, err := terrain.Analyse(ctx, c); err != nil {
		return err
	}
	road, err := ride.NewRoad(c, ride.Conditions{
		TemperatureC: unknown, PressureHPa: unknown, HumidityPct: unknown, AirDensityKgM3: unknown, WindMps: unknown, WindFromDeg: unknown,
		RoughnessM: unknown, HeadwindMps: unknown, Shelter: unknown, LoadKg: unknown, StartSpeedMps: unknown, CoastAboveMps: unknown,
		LateralMps2: unknown, BrakingMps2: unknown,
	}, nil)
	if err != nil {
		return err
	}
	setup := ride.Setup{
		MassKg: unknown, CdAM2: unknown, CdAChangeM2: unknown, Crr: unknown, DrivetrainEfficiency: unknown, WheelInertiaKgM2: unknown,
		WheelRadiusM: unknown, WheelDragAreaM2: unknown, BearingN: unknown, BearingNsPerM: unknown,
	}
	doubt, _ := ride.Uncertainties{
		MassKg: unknown, CdAM2: unknown, Crr: unknown, PowerPct: unknown, WindMps: unknown, TemperatureC: unknown, Efficiency: unknown,
	}.Completed(road, true)
	for i := range riders {
		r := ride.Rider{
			MassKg: float64(55 + 2*i%40), PowerW: float64(200 + 9*i%150), HeightM: unknown, CdAM2: unknown, CriticalPowerW: unknown,
			WPrimeJ: unknown, MaxPowerW: unknown, RecoveryRate: unknown, GrossEfficiency: unknown,
		}
		ridden, err := ride.Simulate(ctx, road, r, setup, ride.Effort{Kind: ride.ByOwnPower}, nil)
		if err != nil {
			return err
		}
		if _, err := ridden.Band(ctx, road, ridden.Sensitivities(road).Whole, doubt, engine.DefaultCoveragePct); err != nil {
			return err
		}
	}
	return nil
}

// The memory of a season doesn't grow with its rounds: what is alive in its midst is about the
// same of four times as many.
func TestSeasonsTakeFlatMemory(t *testing.T) {
	if testing.Short() && os.Getenv("PARCOURS_FULL") != "1" {
		t.Skip("it takes seconds")
	}
	alive := func(rounds int) uint64 {
		h := newHarness(t, engine.Config{CacheBytes: 1 << 20, AnswerBytes: 1 << 20, Workers: 2})
		read, sent := 0, &countingBody{}
		var most []uint64
		sent.next = func() []byte {
			if read++; read > rounds {
				return []byte("--\r\n")
			}
			if read%10 == 0 {
				runtime.GC()
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				most = append(most, m.HeapAlloc)
			}
			f := hillOf(read)
			f.content += strings.Repeat("\n", 256<<10)
			part := partOf(f)
			return append([]byte("\r\n"), part[:len(part)-2]...)
		}
		r := request(http.MethodPost, seasonsPath, "multipart/form-data; boundary=rounds", nil)
		r.Body, r.ContentLength = sent, -1
		sent.rest = []byte("--rounds")
		h.handler.ServeHTTP(&droppingWriter{header: http.Header{}}, r)
		slices.Sort(most)
		return most[len(most)/2]
	}
	few, many := alive(50), alive(200)
	t.Logf("%.1f MiB alive in the midst of 50 rounds, %.1f MiB of 200", float64(few)/(1<<20), float64(many)/(1<<20))
	if many > few+few/4+4<<20 {
		t.Errorf("%d bytes alive in the midst of 50 rounds, %d of 200", few, many)
	}
}

// countingBody is a body that is made as it is read.
type countingBody struct {
	rest []byte
	next func() []byte
}

func (b *countingBody) Read(p []byte) (int, error) {
	if len(b.rest) == 0 {
		b.rest = b.next()
	}
	n := copy(p, b.rest)
	b.rest = b.rest[n:]
	return n, nil
}

func (b *countingBody) Close() error { return nil }

// droppingWriter takes a reply and keeps nothing of it.
type droppingWriter struct{ header http.Header }

func (w *droppingWriter) Header() http.Header         { return w.header }
func (w *droppingWriter) Write(p []byte) (int, error) { return len(p), nil }
func (w *droppingWriter) WriteHeader(int)             {}
func (w *droppingWriter) Flush()                      {}
