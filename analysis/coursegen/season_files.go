package coursegen

import (
	"encoding/json"
	"fmt"
	"math"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// cleanSpacingM is the distance between the points of a round's clean files, in
// metres.
const cleanSpacingM = 15

// File is a file of the season.
type File struct {
	Name string
	Data []byte
}

// SeasonFiles returns all files of the season in a fixed order: per round the truth,
// the clean line, the lap where there is one, and the recordings.
func SeasonFiles() ([]File, error) {
	var files []File
	for _, r := range Season() {
		own, err := r.files()
		if err != nil {
			return nil, fmt.Errorf("round %s: %w", r.Name, err)
		}
		files = append(files, own...)
	}
	return files, nil
}

func (r Round) files() ([]File, error) {
	clean := Noise{SpacingM: cleanSpacingM}
	files := []File{{r.Name + ".gpx", GPX(r.Title, Record(r.Line, clean, 0), 1, r.Truth.Marks)}}
	if r.Lap != nil {
		files = append(files, File{r.Name + "-lap.gpx", GPX(r.Title+", one lap", Record(*r.Lap, clean, 0), 1, marksOn(*r.Lap, r.Truth.Marks))})
	}
	for _, rec := range r.Recordings {
		decimals := 1
		if rec.Noise.RoundM == 1 {
			decimals = 0
		}
		files = append(files, File{r.Name + "-" + rec.Variant + ".gpx", GPX(r.Title, Record(r.Line, rec.Noise, rec.Seed), decimals, r.Truth.Marks)})
	}
	truth, err := json.MarshalIndent(r.truthFile(), "", "  ")
	if err != nil {
		return nil, err
	}
	return append([]File{{r.Name + ".json", append(truth, '\n')}}, files...), nil
}

// marksOn returns the marks that stand on a line.
func marksOn(l Line, marks []Mark) []Mark {
	var on []Mark
	for _, m := range marks {
		for _, p := range l.Pos {
			if geodesy.Chord(p, m.Pos) < passM {
				on = append(on, m)
				break
			}
		}
	}
	return on
}

// truthFile is what a round's truth file says; all lengths in metres.
type truthFile struct {
	Title    string       `json:"title"`
	Shape    string       `json:"shape"`
	LengthM  float64      `json:"length_m"`
	AscentM  float64      `json:"ascent_m"`
	Over1M   float64      `json:"ascent_over_1m_m"`
	Laps     *truthLaps   `json:"laps,omitempty"`
	Climbs   []truthClimb `json:"climbs"`
	Share    float64      `json:"share_before_last_climb"`
	Marks    []truthMark  `json:"marks"`
	Variants []variant    `json:"variants"`
}

type truthLaps struct {
	Count   int       `json:"count"`
	LengthM float64   `json:"length_m"`
	AscentM float64   `json:"ascent_m"`
	StartsM []float64 `json:"starts_m"`
}

type truthClimb struct {
	StartM float64 `json:"start_m"`
	EndM   float64 `json:"end_m"`
	GainM  float64 `json:"gain_m"`
}

type truthMark struct {
	Name string         `json:"name"`
	Kind track.MarkKind `json:"kind"`
	AtM  []float64      `json:"at_m"`
}

// variant says how a noisy file was recorded.
type variant struct {
	File       string  `json:"file"`
	Seed       uint64  `json:"seed"`
	IntervalS  float64 `json:"interval_s"`
	PositionM  float64 `json:"position_noise_m"`
	WhiteM     float64 `json:"position_white_noise_m"`
	ElevationM float64 `json:"elevation_noise_m"`
	DriftM     float64 `json:"elevation_drift_m"`
	RoundM     float64 `json:"elevation_step_m"`
	StartM     float64 `json:"start_m"`
}

func (r Round) truthFile() truthFile {
	t := r.Truth
	f := truthFile{
		Title: r.Title, Shape: t.Shape, LengthM: centimetres(t.LengthM), AscentM: centimetres(t.AscentM), Over1M: centimetres(t.AscentOver1M),
		Climbs: []truthClimb{}, Share: math.Round(shareBeforeLastClimb(r.Line, t)*1e4) / 1e4,
	}
	if r.Lap != nil {
		f.Laps = &truthLaps{Count: t.Laps, LengthM: centimetres(t.LapLengthM), AscentM: centimetres(ascent(r.Lap.Z)), StartsM: allCentimetres(t.LapStarts)}
	}
	for _, c := range t.Climbs {
		f.Climbs = append(f.Climbs, truthClimb{centimetres(c.StartM), centimetres(c.EndM), centimetres(c.GainM)})
	}
	for _, m := range t.Marks {
		f.Marks = append(f.Marks, truthMark{m.Name, m.Kind, allCentimetres(m.At)})
	}
	for _, v := range r.Recordings {
		n := v.Noise
		f.Variants = append(f.Variants, variant{r.Name + "-" + v.Variant + ".gpx", v.Seed, n.IntervalS, n.PositionM, n.WhiteM, n.ElevationM, n.DriftM, n.RoundM, n.StartM})
	}
	return f
}

// shareBeforeLastClimb is the part of all ascent, 0 to 1, that comes before the foot
// of the last climb; 0 without a climb.
func shareBeforeLastClimb(l Line, t Truth) float64 {
	if len(t.Climbs) == 0 {
		return 0
	}
	foot := t.Climbs[len(t.Climbs)-1].StartM
	i := 0
	for l.S[i] < foot {
		i++
	}
	return ascent(l.Z[:i+1]) / t.AscentM
}

func centimetres(x float64) float64 { return math.Round(x*100) / 100 }

func allCentimetres(x []float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = centimetres(x[i])
	}
	return out
}
