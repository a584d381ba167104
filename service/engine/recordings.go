package engine

import (
	"context"
	"fmt"
	"math"

	"parcours.example/analysis/course"
	"parcours.example/analysis/recording"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
)

// read reads the recording of a ride, which is nowhere kept.
func (e *Engine) read(ctx context.Context, r RecordedRide) (*recording.Recording, error) {
	if r.File == nil {
		return recording.Of(r.Samples)
	}
	f, err := formatOf(r.File.MediaType, r.File.Content)
	if err != nil {
		return nil, err
	}
	if f.recording == nil {
		return nil, &track.Error{
			Code: track.CodeNotTheFormat, Detail: fmt.Sprintf("A file of %s holds a course and no times; send a recording as FIT, TCX or GPX with times.", f.name),
		}
	}
	defer e.meter.time(ctx, stageRead)()
	return f.recording(ctx, r.File.Content, e.limits.Track)
}

// courseOf makes the course of a recording for itself: of its positions, or of its distances
// and elevations. It isn't kept.
func (e *Engine) courseOf(ctx context.Context, r *recording.Recording) (*Course, error) {
	stop := e.meter.time(ctx, stageCourse)
	made, err := madeOf(ctx, r)
	stop()
	if err != nil {
		return nil, err
	}
	defer e.meter.time(ctx, stageTerrain)()
	c := &Course{Course: made}
	c.Terrain, err = terrain.Analyse(ctx, made)
	return c, err
}

func madeOf(ctx context.Context, r *recording.Recording) (*course.Course, error) {
	var line track.Track
	var distance, elevation []float64
	placed, high := 0, 0
	for _, s := range r.Samples {
		if s.HasPosition {
			placed++
			line.Points = append(line.Points, track.Point{Pos: s.Pos, Elevation: s.ElevationM})
		}
		if n := len(distance); !math.IsNaN(s.DistanceM) && !math.IsNaN(s.ElevationM) && (n == 0 || s.DistanceM > distance[n-1]) {
			high++
			distance, elevation = append(distance, s.DistanceM), append(elevation, s.ElevationM)
		}
	}
	switch {
	case 2*placed >= len(r.Samples):
		return course.FromTrack(ctx, &line, course.Defaults())
	case 2*high >= len(distance) && len(distance) > 1:
		return course.FromProfile(ctx, distance, elevation, course.Defaults())
	}
	return nil, &Error{Code: CodeNotComputable, Detail: "The recording has neither positions nor distances with elevations to make a course of; give the course."}
}
