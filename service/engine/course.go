package engine

import (
	"context"
	"fmt"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
)

// Course returns the analysed course of a source, from the cache where it can.
// The same points with the same options always give the same course. Errors:
// ErrNotCached for an id that isn't cached, *track.Error for a file that can't be
// read, *course.Error for one that can't become a course, *Error for the request
// itself, *BusyError, or the context's error. The first three come in a *PlacedError
// where the source has a pointer.
func (e *Engine) Course(ctx context.Context, src CourseSource) (*Course, error) {
	if rehearsing(ctx) && src.ID == "" {
		return nil, ErrRehearsed
	}
	c, err := e.course(ctx, src)
	if err == nil && rehearsing(ctx) {
		return nil, ErrRehearsed
	}
	return c, src.placed(err)
}

func (e *Engine) course(ctx context.Context, src CourseSource) (*Course, error) {
	switch {
	case src.ID != "":
		return e.courseByID(ctx, src.ID)
	case src.File != nil:
		return e.courseOfFile(ctx, src)
	case src.Profile != nil:
		return e.courseOfProfile(ctx, src)
	}
	return nil, &Error{Code: CodeNotComputable, Pointer: src.at(""), Detail: "Give the course's id, its file or its profile."}
}

func (e *Engine) courseByID(ctx context.Context, id string) (*Course, error) {
	c, ok := e.courses.byID(id)
	e.meter.lookup(ctx, ok)
	if ok {
		return c, nil
	}
	if e.shared == nil {
		return nil, ErrNotCached
	}
	return e.flights.shared(ctx, id, func(ctx context.Context) (*Course, error) {
		if c, ok := e.known(ctx, id); ok {
			return c, nil
		}
		return nil, ErrNotCached
	})
}

// known returns a course that this replica or another has analysed, and keeps it here.
func (e *Engine) known(ctx context.Context, id string) (*Course, bool) {
	if c, ok := e.courses.byID(id); ok {
		return c, true
	}
	if t, ok := ctx.Value(tripKey{}).(*trip); ok && t.courses[id] != nil {
		return t.courses[id], true
	}
	if !e.mayRead(ctx) {
		return nil, false
	}
	c := e.take(ctx, id, e.shared.GetAll(ctx, sharedKey(id))[0])
	return c, c != nil
}

// take keeps the course that another replica shared here; nil where there is none.
func (e *Engine) take(ctx context.Context, id string, shared []byte) *Course {
	if shared == nil {
		return nil
	}
	defer e.meter.time(ctx, stageShared)()
	c, err := decodeShared(id, shared)
	if err != nil {
		return nil
	}
	e.courses.put(c)
	return c
}

// keep keeps a course here and shares it.
func (e *Engine) keep(ctx context.Context, c *Course) {
	e.courses.put(c)
	if e.mayWrite(ctx) {
		e.shared.PutLater(sharedKey(c.ID), int(weigh(c)), func() ([]byte, error) { return encodeShared(c) })
	}
}

func (e *Engine) courseOfFile(ctx context.Context, src CourseSource) (*Course, error) {
	opt := src.Options
	claim := e.Claim()
	defer claim.Release()
	content, err := e.unpacked(ctx, claim, src.File)
	if err != nil {
		return nil, err
	}
	format, err := formatOf(src.File.MediaType, content)
	if err != nil {
		return nil, err
	}
	key := fileKey(format.mediaTypes[0], content, opt)
	c, ok := e.courses.byFile(key)
	e.meter.lookup(ctx, ok)
	if ok {
		return c, nil
	}
	return e.flights.shared(ctx, key, func(ctx context.Context) (*Course, error) {
		if c, ok := e.courses.byFile(key); ok { // from the call that ended just before this one began
			return c, nil
		}
		large := len(content) > largeBytes || format.points(content) > largePoints
		return admitted(ctx, e.admit, stepsPerByte*float64(len(content)), large, func(ctx context.Context) (*Course, error) {
			return e.analyseFile(ctx, format, content, opt, key)
		})
	})
}

func (e *Engine) courseOfProfile(ctx context.Context, src CourseSource) (*Course, error) {
	p := src.Profile
	if n, limit := len(p.DistanceM), e.limits.ProfileSamples; n > limit {
		return nil, tooMany(src.at("/profile/distance_m"), "samples", limit, n)
	}
	if p.ElevationM != nil && len(p.ElevationM) != len(p.DistanceM) {
		return nil, &Error{
			Code: CodeNotComputable, Pointer: src.at("/profile/elevation_m"),
			Detail: fmt.Sprintf("The profile has %d elevations for %d distances; give one for each.", len(p.ElevationM), len(p.DistanceM)),
		}
	}
	opt := src.Options.effective("")
	id := profileID(p, opt)
	c, ok := e.courses.byID(id)
	e.meter.lookup(ctx, ok)
	if ok {
		return c, nil
	}
	return e.flights.shared(ctx, id, func(ctx context.Context) (*Course, error) {
		if c, ok := e.known(ctx, id); ok {
			return c, nil
		}
		return admitted(ctx, e.admit, 0, false, func(ctx context.Context) (*Course, error) {
			stop := e.meter.time(ctx, stageCourse)
			made, err := course.FromProfile(ctx, p.DistanceM, p.ElevationM, opt.Options)
			stop()
			return e.analysed(ctx, &Course{ID: id, Options: opt}, made, err)
		})
	})
}

// analyseFile reads a file and makes its course, unless the same points came in
// another file before. It gives up once nobody waits any more.
func (e *Engine) analyseFile(ctx context.Context, f format, content []byte, opt CourseOptions, key string) (*Course, error) {
	stop := e.meter.time(ctx, stageRead)
	t, err := f.read(ctx, content, track.Options{Track: opt.Track, Limits: e.limits.Track})
	stop()
	if err != nil {
		return nil, err
	}
	opt = opt.effective(t.Name)
	id := trackID(t, opt)
	if c, ok := e.known(ctx, id); ok {
		e.courses.remember(key, id)
		return c, nil
	}
	stop = e.meter.time(ctx, stageCourse)
	made, err := course.FromTrack(ctx, t, opt.Options)
	stop()
	c, err := e.analysed(ctx, &Course{ID: id, Options: opt}, made, err)
	if err == nil {
		e.courses.remember(key, id)
	}
	return c, err
}

// analysed dissects a course that was made, where it was, and keeps the result in c.
func (e *Engine) analysed(ctx context.Context, c *Course, made *course.Course, err error) (*Course, error) {
	if err != nil {
		return nil, err
	}
	defer e.meter.time(ctx, stageTerrain)()
	c.Course = made
	if c.Terrain, err = terrain.Analyse(ctx, made); err != nil {
		return nil, err
	}
	e.keep(ctx, c)
	return c, nil
}
